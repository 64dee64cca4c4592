"""What can be wrong with a copy of the record."""

from __future__ import annotations

from service.lib.errors import Refused, Unusable


class DamagedBackup(Unusable):
    title = "This back-up is damaged"
    todo = "Nothing was changed. Take another back-up, or another copy of this one."


class NewerBackup(Refused):
    title = "This back-up is newer than the program"
    todo = "Nothing was changed. Bring the program up to date first."


class NoRecordHere(Refused):
    title = "There is no record here"
    todo = "Nothing was written. Check SCION_DATA_DIR and SCION_DATABASE_URL."


class NotEmpty(Refused):
    title = "There is something here already"
    todo = "Nothing was changed. Choose an empty data folder and a new, empty database."


class NotTheSame(Refused):
    title = "The copy differs from what was copied"
    todo = "Nothing was kept of it. Try again; if it stays so, keep what you have and ask for help."


class OtherTables(Refused):
    title = "The tables of the copy are not those of this program"
    todo = "Nothing was changed. Use the version of the program that made it."
