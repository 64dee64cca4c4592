"""The folder a demo is kept in: marked as one, so that it can be opened again, and never mistaken for a club's."""

from __future__ import annotations

import json
import shutil
import sys
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy.engine import make_url

from service.cli.season import Season, SignInShown
from service.lib.copies import is_empty
from service.lib.settings import Settings
from service.members.rules import Role

MARK = "demo.json"
WHAT = "A demo: everything in this folder is invented and may be thrown away."


def mark_begun(settings: Settings) -> None:
    """Mark the folder before the first row, so that a telling that was cut off is known for what it is."""
    _write(settings, {"what": WHAT, "database": _database(settings), "season": None})


def mark_told(settings: Settings, season: Season, now: datetime) -> None:
    """Keep what the opening words need, and where the demo's clock stands."""
    told = {
        "now": now.isoformat(), "password": season.password, "deeds": season.deeds, "codes": dict(season.codes),
        "sign_ins": [[each.role, each.name, each.sign_in_name] for each in season.sign_ins],
        "ids": [[kind, key, str(value)] for (kind, key), value in season.ids.items()],
    }  # fmt: skip
    _write(settings, {"what": WHAT, "database": _database(settings), "season": told})


def opened_again(settings: Settings, *, fresh: bool) -> Season | None:
    """The season a marked folder was told, or None where it must be told now. Ends where there is a club."""
    mark = _read(settings)
    there = not is_empty(settings.resolved_database_url())
    if mark is None or mark.get("database") != _database(settings):
        if there or (settings.data_dir / "secret").exists():
            sys.exit(
                f"{settings.data_dir} holds a club already, or its database does, and it is no demo. "
                "Nothing was touched; the demo wants an empty folder and an empty database."
            )
        return None
    told = mark.get("season")
    if there and (fresh or told is None):
        _clear(settings)
        return None
    return _season(told) if there and told is not None else None


def _clear(settings: Settings) -> None:
    """Throw the demo's own files away, and nothing else that may lie beside them."""
    url = make_url(settings.resolved_database_url())
    if url.get_backend_name() != "sqlite":
        sys.exit("Only a demo on SQLite can begin anew in its place; give this one a new, empty database.")
    path = Path(url.database or "")
    for end in ("", "-wal", "-shm"):
        path.with_name(path.name + end).unlink(missing_ok=True)
    shutil.rmtree(settings.data_dir / "pictures", ignore_errors=True)
    (settings.data_dir / "secret").unlink(missing_ok=True)


def _database(settings: Settings) -> str:
    return make_url(settings.resolved_database_url()).render_as_string(hide_password=True)


def _read(settings: Settings) -> dict[str, Any] | None:
    try:
        told = json.loads((settings.data_dir / MARK).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) and told.get("what") == WHAT else None


def _write(settings: Settings, told: dict[str, Any]) -> None:
    settings.prepare()
    work = settings.data_dir / f".{MARK}.unfinished"
    work.write_text(json.dumps(told, ensure_ascii=False, indent=1), encoding="utf-8")
    work.replace(settings.data_dir / MARK)


def _season(told: dict[str, Any]) -> Season:
    return Season(
        now=datetime.fromisoformat(told["now"]),
        password=told["password"],
        sign_ins=tuple(SignInShown(Role(role), name, sign_in) for role, name, sign_in in told["sign_ins"]),
        codes=told["codes"],
        ids={(kind, key): UUID(value) for kind, key, value in told["ids"]},
        deeds=told["deeds"],
    )
