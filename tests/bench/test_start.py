"""From the command to the first page."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.bench.asking import ROOT
from tests.bench.figures import Figures, by_turns, ms

BARE = "import fastapi, sqlmodel"
SHOWN = 6


@pytest.fixture
def club(tmp_path: Path) -> dict[str, str]:
    """The environment of a club whose database stands."""
    around = {**os.environ, "SCION_DATA_DIR": str(tmp_path / "club")}
    subprocess.run(
        [sys.executable, "-m", "service", "migrate"],
        env=around,
        cwd=ROOT,
        check=True,
        stdout=subprocess.DEVNULL,
    )
    return around


def seconds_to_first_page(around: dict[str, str]) -> float:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "service", "serve", "--port", str(port)]
    began = time.perf_counter()
    with subprocess.Popen(command, env=around, cwd=ROOT, stdout=subprocess.DEVNULL) as process:
        try:
            while not first_page(port):
                assert process.poll() is None
                time.sleep(0.005)
            return time.perf_counter() - began
        finally:
            process.terminate()


def first_page(port: int) -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    try:
        connection.request("GET", "/", headers={"Accept": "text/html"})
        answer = connection.getresponse()
        assert answer.status == 200
        return b"</html>" in answer.read()
    except ConnectionRefusedError:
        return False
    finally:
        connection.close()


def seconds_of_a_bare_import() -> float:
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", BARE], cwd=ROOT, check=True)
    return time.perf_counter() - began


def test_the_first_page_comes_within_three_bare_imports(club: dict[str, str], figures: Figures) -> None:
    """`python -m service serve` on a database that stands, until the start page is there.

    Ceiling: a process that only imports the framework and the ORM.
    """
    found = by_turns(5, {"start": lambda: seconds_to_first_page(club), "bare": seconds_of_a_bare_import})
    ratio = found["start"] / found["bare"]
    figures.add("start to first page", ms(found["start"]), ms(found["bare"]), ratio, "<= 3")
    for name, milliseconds in dearest_imports():
        figures.add(f"  of it, importing {name}", f"{milliseconds:.0f} ms", "")

    assert ratio <= 3


def dearest_imports() -> list[tuple[str, float]]:
    """What the imports of a start cost most, by package."""
    said = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", "import service.cli.serving"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stderr
    spent: dict[str, float] = {}
    for line in said.splitlines()[1:]:
        own, _, name = line.removeprefix("import time:").split("|")
        if own.strip().isdigit():
            package = name.strip().split(".")[0]
            spent[package] = spent.get(package, 0) + int(own) / 1000
    return sorted(spent.items(), key=lambda pair: -pair[1])[:SHOWN]
