"""A club's whole record as plain text: read in one snapshot, kept in one file, loaded into either database."""

from service.lib.copies.archive import Archive, Contents, write_archive
from service.lib.copies.loading import differing, is_empty, load_rows, loading, unlike
from service.lib.copies.problems import (
    DamagedBackup,
    NewerBackup,
    NoRecordHere,
    NotEmpty,
    NotTheSame,
    OtherTables,
)
from service.lib.copies.rows import (
    Shape,
    Sum,
    lines_of,
    measured,
    revision_of,
    shapes_of,
    snapshot,
    sums_of,
)

__all__ = [
    "Archive",
    "Contents",
    "DamagedBackup",
    "NewerBackup",
    "NoRecordHere",
    "NotEmpty",
    "NotTheSame",
    "OtherTables",
    "Shape",
    "Sum",
    "differing",
    "is_empty",
    "lines_of",
    "load_rows",
    "loading",
    "measured",
    "revision_of",
    "shapes_of",
    "snapshot",
    "sums_of",
    "unlike",
    "write_archive",
]
