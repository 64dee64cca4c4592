"""What a logger's file holds, by what can be true of a store."""

from __future__ import annotations

from datetime import datetime

from service.lib import told_files
from service.lib.logger_files import FileForm
from service.lib.plain_csv import PlainTable
from service.lib.readings import Readings
from service.lib.told_files import FileTold, Possible
from service.storage.rules.loggers import COLDEST_C, DAMPEST_PCT, WARMEST_C

OF_A_STORE = Possible(COLDEST_C, WARMEST_C, "a store", DAMPEST_PCT)


def tell_file(raw: bytes, form: FileForm, now: datetime, table: PlainTable | None = None) -> FileTold:
    """Read a file by a form. Raises what `read_table` and `read_file` raise."""
    return told_files.tell_file(raw, form, now, OF_A_STORE, table)


def faults_of(readings: Readings, now: datetime) -> list[tuple[int, str]]:
    """Places of readings that cannot be true, and why."""
    return told_files.faults_of(readings, now, OF_A_STORE)


# A mean that no place where scions are kept has, and what it is in the other unit (judgement).
TOO_WARM_C, TOO_COLD_C = 25.0, -10.0


def doubt_of(told: FileTold) -> str:
    """Why the unit of a file may be the other one; empty where it need not be asked."""
    if not len(told.readings):
        return ""
    mean = float(told.readings.celsius().mean())
    if told.form.unit == "C" and mean > TOO_WARM_C:
        return (
            f"On average it says {mean:.1f} °C, which is {(mean - 32) / 1.8:.1f} °C if it is written in °F."
        )
    if told.form.unit == "F" and mean < TOO_COLD_C:
        return f"On average it says {mean * 1.8 + 32:.1f} °F, which is {mean:.1f} °C: is it written in °C?"
    return ""
