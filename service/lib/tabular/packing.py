"""Several files in one ZIP, each written as its pieces come, none ever whole in memory."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path


def write_zip(path: Path, files: Iterable[tuple[str, Iterable[bytes]]], made_at: datetime) -> None:
    """Write a ZIP that anybody can open; the files carry `made_at`, in the zone it is told in."""
    stamp = made_at.timetuple()[:6]
    with path.open("wb") as raw, zipfile.ZipFile(raw, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as packed:
        for name, pieces in files:
            told = zipfile.ZipInfo(name, (max(stamp[0], 1980), *stamp[1:]))
            told.compress_type, told.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
            with packed.open(told, "w", force_zip64=True) as file:
                for piece in pieces:
                    file.write(piece)
