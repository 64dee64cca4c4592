"""One process at a time writes an SQLite database."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy.engine import make_url

from service.lib.settings import Settings


@contextlib.contextmanager
def serving_alone(settings: Settings) -> Iterator[None]:
    """On SQLite one process serves a database; a second is told so. The lock goes with its process, however it ends."""
    url = make_url(settings.resolved_database_url())
    if url.get_backend_name() != "sqlite" or os.name != "posix":
        yield
        return
    import fcntl

    settings.prepare()
    database = Path(url.database or "")
    # Beside the database and not in the data folder, for two folders may be told the same database.
    with database.with_name(f"{database.name}.lock").open("a") as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            sys.exit(
                f"{database} is served by another process already. Stop that one first, or open its address."
            )
        yield
