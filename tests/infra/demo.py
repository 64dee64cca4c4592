"""The demo's season, told once in a run and copied for every test that wants a demo to play with."""

from __future__ import annotations

import fcntl
import json
import os
import shutil
from functools import cache
from pathlib import Path

from service.cli.demo_folder import MARK
from service.cli.demonstrating import load_demo, settings_for
from service.lib.settings import Settings

FOLDER = "SCION_TEST_TOLD_DEMO"  # a folder of the run's own, which all its workers share


def kept_demo(folder: Path, port: int = 0) -> Settings:
    """Settings of a folder of one's own in which the demo was told and left: opening it takes no telling."""
    shutil.copytree(_told(), folder, dirs_exist_ok=True)
    settings = settings_for(folder, port)
    mark = json.loads((folder / MARK).read_text(encoding="utf-8"))
    mark["database"] = settings.resolved_database_url()
    (folder / MARK).write_text(json.dumps(mark), encoding="utf-8")
    return settings


@cache
def _told() -> Path:
    """The first worker to ask tells it, the others wait; each run of the tests has its own."""
    folder = Path(os.environ[FOLDER])
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "whole").exists():
            load_demo(settings_for(folder / "demo", 0)).app.state.database.close()
            (folder / "whole").touch()
    return folder / "demo"
