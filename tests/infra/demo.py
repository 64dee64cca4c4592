"""The demo's season, told once in each process and copied for every test that wants a demo to play with."""

from __future__ import annotations

import json
import shutil
import tempfile
from functools import cache
from pathlib import Path

from service.cli.demo_folder import MARK
from service.cli.demonstrating import load_demo, settings_for
from service.lib.settings import Settings


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
    folder = Path(tempfile.mkdtemp(prefix="told-demo-"))
    load_demo(settings_for(folder, 0)).app.state.database.close()
    return folder
