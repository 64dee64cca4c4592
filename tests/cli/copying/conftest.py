"""The demo's club with a picture, told once; and its back-up, written once."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from service.cli.copying import back_up
from service.lib.settings import Settings
from tests.infra.demo import kept_demo

PICTURE = b"\xff\xd8 not looked at again once it is kept \xff\xd9"
SHA = hashlib.sha256(PICTURE).hexdigest()


@dataclass(frozen=True)
class Kept:
    """A club on SQLite, and a back-up of it."""

    settings: Settings
    file: Path


@pytest.fixture(scope="package")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Kept:
    folder = tmp_path_factory.mktemp("kept")
    settings = kept_demo(folder / "club")
    path = settings.data_dir / "pictures" / SHA[:2] / f"{SHA}.jpg"
    path.parent.mkdir(parents=True)
    path.write_bytes(PICTURE)
    assert back_up(folder / "back-up.zip", settings) == 0
    return Kept(settings, folder / "back-up.zip")


@pytest.fixture
def club(kept: Kept, tmp_path: Path) -> Settings:
    """A copy of the club that a test may change."""
    shutil.copytree(kept.settings.data_dir, tmp_path / "club")
    return kept.settings.model_copy(update={"data_dir": tmp_path / "club"})


@pytest.fixture
def empty(new_database_url: Callable[..., str], tmp_path: Path) -> Callable[[str], Settings]:
    """Settings of a club that is not there yet, on either kind of database."""

    def made(kind: str) -> Settings:
        url = new_database_url(kind, migrated=False) if kind == "postgres" else ""
        return Settings(data_dir=tmp_path / f"new-{kind}", database_url=url)

    return made
