"""What a logger's file holds, by what can be true of a store."""

from __future__ import annotations

from datetime import datetime

from service.lib import told_files
from service.lib.logger_files import FileForm
from service.lib.plain_csv import PlainTable
from service.lib.readings import Readings
from service.lib.temperatures import doubt_of_unit
from service.lib.told_files import FileTold, Possible
from service.storage.rules.loggers import COLDEST_C, DAMPEST_PCT, WARMEST_C

OF_A_STORE = Possible(COLDEST_C, WARMEST_C, "a store", DAMPEST_PCT)


def tell_file(raw: bytes, form: FileForm, now: datetime, table: PlainTable | None = None) -> FileTold:
    """Read a file by a form. Raises what `read_table` and `read_file` raise."""
    return told_files.tell_file(raw, form, now, OF_A_STORE, table)


def faults_of(readings: Readings, now: datetime) -> list[tuple[int, str]]:
    """Places of readings that cannot be true, and why."""
    return told_files.faults_of(readings, now, OF_A_STORE)


LIKELY_C = (-10.0, 25.0)  # a mean beyond is of no place where scions are kept (judgement)


def doubt_of(told: FileTold) -> str:
    """Why the unit of a file may be the other one; empty where it need not be asked."""
    if not len(told.readings):
        return ""
    return doubt_of_unit(float(told.readings.celsius().mean()), told.form.unit, LIKELY_C)
