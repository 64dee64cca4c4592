"""Pictures people send: re-encoded one at a time in a process of its own, kept by their SHA-256.

A picture is a stranger's file: it is decoded where it can harm nothing, and only the pixels are kept.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from service.lib.errors import NotFound, TooLarge, Unusable, WrongKind
from service.lib.reencode import LONGEST_SIDE, MOST_PIXELS, SECONDS

LARGEST = 20_000_000  # bytes as sent
KINDS_WORDS = "JPEG, PNG or WebP"
_PROGRAM = Path(__file__).with_name("reencode.py")
_one_at_a_time = threading.Lock()


class BrokenPicture(Unusable):
    title = "This picture cannot be read"
    todo = f"Send it again, or take another: {KINDS_WORDS}."


class TooManyPixels(Unusable):
    title = "This picture has too many pixels"
    todo = f"Make it smaller first; pictures are kept at {LONGEST_SIDE} pixels at most."


class NoPicture(WrongKind):
    title = "This kind of picture is not taken"
    todo = f"Send {KINDS_WORDS}."


class NoSuchPicture(NotFound):
    title = "There is no such picture"


@dataclass(frozen=True)
class KeptPicture:
    """A picture as it is kept."""

    sha256: str
    width: int
    height: int
    size_bytes: int


def keep_picture(folder: Path, raw: bytes) -> KeptPicture:
    """Re-encode a picture and keep it; the same picture is kept once. Blocks while another is at work."""
    if not raw:
        raise BrokenPicture("No bytes came.")
    if len(raw) > LARGEST:
        raise TooLarge(f"A picture may have {LARGEST // 1_000_000} MB.", limit_bytes=LARGEST)
    with _one_at_a_time:
        width, height, jpeg = _reencode(raw)
    return keep_clean(folder, width, height, jpeg)


def keep_clean(folder: Path, width: int, height: int, jpeg: bytes) -> KeptPicture:
    """Keep a picture that was re-encoded already; the same picture is kept once."""
    digest = hashlib.sha256(jpeg).hexdigest()
    _put(folder, digest, jpeg)
    return KeptPicture(digest, width, height, len(jpeg))


def path_of_picture(folder: Path, sha256: str) -> Path:
    """Where a kept picture lies. Raises `NoSuchPicture`."""
    path = _path(folder, sha256) if re.fullmatch("[0-9a-f]{64}", sha256) else None
    if path is None or not path.is_file():
        raise NoSuchPicture("No picture is kept under this address.")
    return path


def _path(folder: Path, sha256: str) -> Path:
    return folder / "pictures" / sha256[:2] / f"{sha256}.jpg"


def _reencode(raw: bytes) -> tuple[int, int, bytes]:
    try:
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-I", str(_PROGRAM)],
            input=raw,
            capture_output=True,
            timeout=SECONDS + 10,
            check=False,
        )
    except subprocess.TimeoutExpired as error:
        raise BrokenPicture("It took too long to read.") from error
    if done.returncode == 4:
        raise TooManyPixels(f"At most {MOST_PIXELS // 1_000_000} million pixels are taken.", most=MOST_PIXELS)
    if done.returncode == 5:
        raise NoPicture(f"It is a picture, but not {KINDS_WORDS}.")
    head, found, jpeg = done.stdout.partition(b"\n")
    if done.returncode or not found:
        raise BrokenPicture(f"These bytes are not a whole {KINDS_WORDS}.")
    width, height = (int(number) for number in head.split())
    return width, height, jpeg


def _put(folder: Path, sha256: str, jpeg: bytes) -> None:
    path = _path(folder, sha256)
    if path.exists():
        return
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(jpeg)
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)  # whole or not at all
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


class PictureNotSent(Unusable):
    title = "This picture was never sent"
    todo = "Send the picture first, then name what its answer calls `sha256`."


def check_pictures_kept(folder: Path, named: Iterable[str | None]) -> None:
    """Raises `PictureNotSent` where one of the pictures a body names is not kept."""
    for sha256 in named:
        if sha256 is not None and not _path(folder, sha256).is_file():
            raise PictureNotSent("No picture is kept under this address.", field="picture", sha256=sha256)
