"""What a start loads: counted, not timed, so it holds on a busy machine too."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HEAVY = (
    "limits",
    "icalendar",
    "dateutil",
    "PIL",
    "fpdf",
    "qrcode",
    "uharfbuzz",
    "zxingcpp",
    "alembic",
    "rich",
    "pygments",
    "psycopg",
    "httpx",
    "numpy",
)


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


def test_a_start_loads_nothing_that_only_paper_pictures_or_upkeep_need(club: dict[str, str]) -> None:
    program = (
        "import sys; from service.cli.serving import create_app, prepare; from service.lib.settings import Settings;"
        "prepare(Settings()); create_app(Settings()); print(' '.join({name.partition('.')[0] for name in sys.modules}))"
    )
    said = subprocess.run(
        [sys.executable, "-c", program], env=club, cwd=ROOT, check=True, capture_output=True, text=True
    ).stdout

    assert set(said.split()) & set(HEAVY) == set()
