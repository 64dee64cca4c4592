"""Every check in one run, with the minutes each part took; what `deploy/test` and `task check` call.

A part that fails does not stop the next ones; the run as a whole then fails.
"""

from __future__ import annotations

import contextlib
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from tests.infra import chromium, postgres

CHECKOUT = Path(__file__).resolve().parents[2]
PYTHON = sys.executable
STATIC = {
    "types": [PYTHON, "-m", "mypy"],
    "format": [PYTHON, "-m", "ruff", "format", "--check", "--output-format", "concise", "."],
    "lint": [PYTHON, "-m", "ruff", "check", "--output-format", "concise", "."],
    "contracts": ["lint-imports", "--no-cache"],
    "migrations": [PYTHON, "-m", "service", "migrate", "--check"],
}
PYTEST = [PYTHON, "-m", "pytest"]
BENCH = CHECKOUT / "tests" / "bench"
LAST_LINE = re.compile(r"(=* ?)?(\d+ (passed|failed|error|errors|skipped|deselected|warning)|no tests ran)")


@dataclass
class Part:
    """One part of the run: how it ended, how long it took, what it said."""

    name: str
    ok: bool
    seconds: float
    said: str = ""
    last_line: str = ""

    def row(self) -> str:
        return f"  {self.name:<16}{self.seconds / 60:>7.2f} min   {'ok' if self.ok else 'FAILED'}"


def _timed(name: str, work: Callable[[], tuple[bool, str, str]]) -> Part:
    began = time.monotonic()
    ok, said, last_line = work()
    return Part(name, ok, time.monotonic() - began, said, last_line)


def _quietly(command: Sequence[str]) -> tuple[bool, str, str]:
    # Checking the migrations must not touch the data of a club that runs from this checkout.
    with tempfile.TemporaryDirectory(prefix="scion-check-") as folder:
        clean = {name: value for name, value in os.environ.items() if not name.startswith("SCION_")}
        done = subprocess.run(
            command, cwd=CHECKOUT, env={**clean, "SCION_DATA_DIR": folder}, check=False,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip
    return done.returncode == 0, done.stdout, ""


def _aloud(command: Sequence[str]) -> tuple[bool, str, str]:
    """Run with the output shown as it comes, and keep pytest's last line."""
    last_line = ""
    with subprocess.Popen(
        command, cwd=CHECKOUT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            sys.stdout.write(line)
            sys.stdout.flush()
            if LAST_LINE.match(line):
                last_line = line.rstrip()
    return process.returncode == 0, "", last_line


def _ground() -> tuple[bool, str, str]:
    """Chromium and PostgreSQL, found or brought here before the tests start."""
    said = []
    ok = True
    try:
        said.append(f"Chromium: {chromium.bring()}")
    except chromium.NoChromium as missing:
        ok = False
        said.append(str(missing))
    try:
        server = postgres.start()
        said.append(f"PostgreSQL: {server.programs}")
        server.stop()
    except postgres.NoPostgres as missing:
        ok = False
        said.append(str(missing))
    return ok, "\n".join(said) + "\n", ""


def _static() -> list[Part]:
    with ThreadPoolExecutor(2) as pool:
        futures = [pool.submit(_timed, name, partial(_quietly, command)) for name, command in STATIC.items()]
        return [future.result() for future in futures]


def _show(part: Part) -> None:
    print(f"-- {part.name}: {'ok' if part.ok else 'FAILED'} ({part.seconds:.1f} s)")
    if part.said.strip() and (not part.ok or part.name == "ground"):
        print(part.said.rstrip())
    sys.stdout.flush()


def _workers() -> str:
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 2
    return str(max(2, min(usable, 8)))


def _tests() -> list[Part]:
    # Counted, not timed: it holds on a busy machine too.
    counted = "tests/bench/test_labelling.py"
    suite = [*PYTEST, "tests", counted, "-n", _workers(), "--dist", "worksteal", "--durations", "10"]
    suite += [f"--ignore={path}" for path in BENCH.glob("test_*.py") if path.name != Path(counted).name]
    return [_timed("tests", partial(_aloud, suite))]


def _summary(parts: Sequence[Part]) -> None:
    total = sum(part.seconds for part in parts)
    print("\nMinutes per part")
    for part in parts:
        print(part.row())
    print(f"  {'all':<16}{total / 60:>7.2f} min")
    failed = [part.name for part in parts if not part.ok]
    print(f"FAILED: {', '.join(failed)}" if failed else "Every part passed.")
    for part in parts:
        if part.last_line:
            print(f"{part.name}: {part.last_line}")


def main(words: Sequence[str]) -> int:
    os.chdir(CHECKOUT)
    if list(words) == ["--bench"]:
        return subprocess.call([*PYTEST, "tests/bench"])
    if words and words[0] != "--static":
        with contextlib.suppress(chromium.NoChromium):  # the tests that want one say so themselves
            chromium.bring()
        return subprocess.call([*PYTEST, *words])
    parts = _static()
    for part in parts:
        _show(part)
    if not words:
        parts.append(_timed("ground", _ground))
        _show(parts[-1])
        parts += _tests()
    _summary(parts)
    return 0 if all(part.ok for part in parts) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
