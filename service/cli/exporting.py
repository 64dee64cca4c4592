"""Writing everything into one file of plain tables."""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

from service.cli.copying import CARE, opened, plainly
from service.lib.settings import Settings
from service.provenance.queries import write_everything
from service.provenance.rules.taking_away import TakenAs, name_of_file


def export_everything(target: Path, settings: Settings | None = None) -> int:
    """Write the tables into one new file while the club serves; into a folder under a name of its own."""
    made_at = datetime.now(UTC)
    if target.is_dir():
        target /= name_of_file(TakenAs.ZIP, made_at.date())
    if target.suffix.lower() not in {".zip", ".xlsx"}:
        print("Name a file that ends in .zip or .xlsx, or a folder.", file=sys.stderr)
        return 2
    if target.exists():
        print(f"{target} is there already. Choose another name.", file=sys.stderr)
        return 1
    return plainly(lambda: _export(target, settings or Settings(), made_at))


def _export(target: Path, settings: Settings, made_at: datetime) -> int:
    form = TakenAs(target.suffix.lower()[1:])
    work = target.with_name(f".{target.name}.unfinished")
    with opened(settings.resolved_database_url()) as database:
        work.unlink(missing_ok=True)
        os.close(
            os.open(work, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
        )  # nobody else reads it half-written
        tables = write_everything(database, work, form, made_at)
    work.replace(target)
    print(f"Wrote {tables} tables into {target}, {target.stat().st_size:,} bytes.")
    print(CARE_OF_TABLES)
    return 0


CARE_OF_TABLES = CARE.replace("names, contacts and the service's secret", "names and contacts")
