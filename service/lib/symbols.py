"""QR symbols in pictures people send: read one picture at a time in a program of its own, which stays for the next.

A picture is a file of somebody's, so it is decoded apart from the service, within limits of memory and time. Starting that
program costs as much as reading a picture, so it waits a minute for the next one of a member; a stranger's picture gets a
program of its own, which sees no other picture. It is ended where it takes too long, and made anew when it is gone.
"""

from __future__ import annotations

import atexit
import contextlib
import json
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, cast

from service.lib.errors import TooLarge
from service.lib.pictures import KINDS_WORDS, LARGEST, BrokenPicture, NoPicture, TooManyPixels
from service.lib.read_symbols import MOST_PIXELS, SECONDS

_PROGRAM = Path(__file__).with_name("read_symbols.py")
Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Symbol:
    """What one symbol says, and its corners as shares of the picture's width and height [0 to 1], clockwise."""

    text: str
    corners: Corners


@dataclass(frozen=True)
class SeenPicture:
    """The symbols of a picture, and the picture itself made small: a clean JPEG."""

    symbols: tuple[Symbol, ...]
    in_all: int  # more than are told, where there are too many
    width: int
    height: int
    jpeg: bytes


class _Reader:
    """The program, started when it is needed. One picture at a time."""

    def __init__(self) -> None:
        self.one_at_a_time = threading.Lock()
        self.program: subprocess.Popen[bytes] | None = None

    def read(self, raw: bytes) -> tuple[dict[str, Any], bytes]:
        with self.one_at_a_time:
            for _ in range(2):
                begun, waited = self.program is None, time.monotonic()
                try:
                    return self._ask(raw)
                except (EOFError, OSError):  # it had just ended for want of work, or the picture was its end
                    self.end()
                    if begun or time.monotonic() - waited >= SECONDS:
                        break
        return {"fault": "broken"}, b""

    def _ask(self, raw: bytes) -> tuple[dict[str, Any], bytes]:
        if self.program is None or self.program.poll() is not None:
            self.end()
            self.program = subprocess.Popen(  # noqa: S603
                [sys.executable, "-I", str(_PROGRAM)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                start_new_session=True,  # who stops the service at the keyboard stops this by its closed pipe
            )  # fmt: skip
        come, go = cast("IO[bytes]", self.program.stdout), cast("IO[bytes]", self.program.stdin)
        too_long = threading.Timer(SECONDS, self.program.kill)
        too_long.start()
        try:
            go.write(len(raw).to_bytes(8) + raw)
            go.flush()
            told = json.loads(_exactly(come, int.from_bytes(_exactly(come, 8))))
            return told, _exactly(come, told.pop("small"))
        finally:
            too_long.cancel()

    def end(self) -> None:
        if self.program is not None:
            self.program.kill()
            for pipe in (self.program.stdin, self.program.stdout):
                if pipe is not None:
                    with contextlib.suppress(OSError):
                        pipe.close()
            self.program.wait()
        self.program = None


def _exactly(come: IO[bytes], count: int) -> bytes:
    read = come.read(count)
    if len(read) < count:
        raise EOFError
    return read


_reader = _Reader()
atexit.register(_reader.end)


_strangers = threading.Lock()


def _read_alone(raw: bytes) -> tuple[dict[str, Any], bytes]:
    with _strangers:
        reader = _Reader()
        try:
            return reader.read(raw)
        finally:
            reader.end()


def see_symbols(raw: bytes, *, alone: bool = False) -> SeenPicture:
    """What the QR symbols of a picture say and where they stand. Blocks while another picture is read; `alone`: a stranger's.

    Raises `TooLarge`, `BrokenPicture`, `TooManyPixels`, `NoPicture`.
    """
    if not raw:
        raise BrokenPicture("No bytes came.", field="picture")
    if len(raw) > LARGEST:
        raise TooLarge(f"A picture may have {LARGEST // 1_000_000} MB.", limit_bytes=LARGEST, field="picture")
    told, jpeg = _read_alone(raw) if alone else _reader.read(raw)
    fault = told.get("fault")
    if fault == "pixels":
        raise TooManyPixels(
            f"It has more than {MOST_PIXELS // 1_000_000} million.",
            todo="Choose a smaller size in the camera, or send a part of the picture.",
            field="picture",
        )
    if fault == "kind" or (fault and _is_heic(raw)):
        raise NoPicture(
            "It is no picture of these kinds."
            if not _is_heic(raw)
            else "It is a HEIC picture, as some phones keep them.",
            todo=f"Send {KINDS_WORDS}: most phones can be told to keep JPEG, and a picture of the screen is one too.",
            field="picture",
        )
    if fault:
        raise BrokenPicture("It is no picture, or a damaged one.", field="picture")
    width, height = told["width"], told["height"]
    symbols = tuple(
        Symbol(text, tuple((x / width, y / height) for x, y in corners)) for text, corners in told["symbols"]
    )
    return SeenPicture(symbols, told["in_all"], told["small_width"], told["small_height"], jpeg)


def _is_heic(raw: bytes) -> bool:
    """ISO/IEC 14496-12 file type box with a brand of HEIF (ISO/IEC 23008-12)."""
    return raw[4:8] == b"ftyp" and raw[8:12] in (
        b"heic",
        b"heix",
        b"hevc",
        b"mif1",
        b"msf1",
        b"heim",
        b"avif",
    )
