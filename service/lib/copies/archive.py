"""One file with a club's whole record in it: a zip of plain text, whole or not there at all.

tables/NAME.jsonl     the rows of a table, a line each (see `rows`)
pictures/SHA256.jpg   each under the digest of its bytes
secret                the service's own secret
manifest.json         state of the tables, columns, counts and digests of everything above

The zip's own comment is its seal: the SHA-256 of every byte before it. Digests of the parts cannot take its place, for a
zip has names, times, offsets and odd bits that belong to no part.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Any, Self

from service.lib.copies.problems import DamagedBackup, NewerBackup, NotEmpty
from service.lib.copies.rows import TYPES, Shape, Sum, Told, measured, sum_of

FORMAT = 1
CHUNK = 1 << 20
SEAL = 64  # signs
MANIFEST, SECRET = "manifest.json", "secret"
DIGEST = re.compile(r"[0-9a-f]{64}")
NAME = re.compile(r"[a-z][a-z0-9_]{0,62}")


@dataclass
class Contents:
    """What a back-up says it holds."""

    revision: str
    made_at: str
    shapes: list[Shape] = field(default_factory=list)
    sums: dict[str, Sum] = field(default_factory=dict)
    pictures: dict[str, int] = field(default_factory=dict)  # bytes by digest
    secret_sha256: str = ""
    audit: dict[str, Any] | None = None
    program: str = ""

    @property
    def rows(self) -> int:
        return sum(each.rows for each in self.sums.values())

    def to_json(self) -> bytes:
        tables = [
            {
                "name": shape.name, "keys": shape.keys, "columns": dict(shape.columns), "rows": told.rows, "sha256": told.sha256,
            }
            for shape in self.shapes
            for told in [self.sums[shape.name]]
        ]  # fmt: skip
        told = {
            "format": FORMAT, "made_at": self.made_at, "program": self.program, "revision": self.revision, "tables": tables,
            "pictures": self.pictures, "secret_sha256": self.secret_sha256, "audit": self.audit,
        }  # fmt: skip
        return json.dumps(told, indent=1).encode()

    @classmethod
    def from_json(cls, text: bytes) -> Contents:
        """Read a manifest. Raises `NewerBackup` and `DamagedBackup`."""
        try:
            told = json.loads(text)
            if told["format"] > FORMAT:
                raise NewerBackup(
                    f"It is written in form {told['format']}; this program reads up to {FORMAT}."
                )
            made = cls(told["revision"], told["made_at"], program=told["program"], audit=told["audit"])
            made.secret_sha256, made.pictures = told["secret_sha256"], dict(told["pictures"])
            for each in told["tables"]:
                columns = tuple(dict(each["columns"]).items())
                made.shapes.append(Shape(each["name"], columns, each["keys"]))
                made.sums[each["name"]] = Sum(each["rows"], each["sha256"])
        except (KeyError, TypeError, ValueError) as error:
            raise DamagedBackup("What it says of itself cannot be read.") from error
        words = [*made.sums, *(name for shape in made.shapes for name in shape.column_names)]
        kinds = {kind for shape in made.shapes for _, kind in shape.columns}
        if (
            not all(map(NAME.fullmatch, words))
            or not all(map(DIGEST.fullmatch, made.pictures))
            or kinds - TYPES.keys()
        ):
            raise DamagedBackup("It names things that no back-up has.")
        return made


# -- writing -------------------------------------------------------------------------------------------------------


@contextlib.contextmanager
def _whole_or_nothing(target: Path) -> Iterator[IO[bytes]]:
    """A file that gets its name only when it is whole and safe on the disk."""
    if target.exists():
        raise NotEmpty(
            f"{target} exists already.", todo="Nothing was changed. Name a file that does not exist."
        )
    work = target.with_name(f".{target.name}.unfinished")
    handle = os.open(work, os.O_RDWR | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o600)
    try:
        with os.fdopen(handle, "w+b") as file:
            work.chmod(0o600)  # one left by a run that was killed may have had other rights
            yield file
            file.flush()
            os.fsync(file.fileno())
        work.replace(target)
        _sync_folder(target.parent)
    except BaseException:
        work.unlink(missing_ok=True)
        raise


def _sync_folder(folder: Path) -> None:
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def write_archive(
    target: Path,
    contents: Contents,
    lines_of: Callable[[Shape], Iterable[bytes]],
    *,
    secret: bytes | None,
    pictures: Iterable[Path],
    told: Told,
) -> list[str]:
    """Write a back-up and read it again before it gets its name; `contents` is filled on the way.

    Gives the pictures that do not match their own name: they were left out.
    """  # fmt: skip
    with _whole_or_nothing(target) as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as out:
            out.comment = b"0" * SEAL
            for shape in contents.shapes:
                _write_table(out, shape, lines_of(shape), contents, told)
            if secret is not None:
                out.writestr(SECRET, secret)
                contents.secret_sha256 = hashlib.sha256(secret).hexdigest()
            wrong = [path.name for path in pictures if not _write_picture(out, path, contents)]
            out.writestr(MANIFEST, contents.to_json())
        seal(file)
        Archive(file).verify(told)
    return wrong


def seal(file: IO[bytes]) -> None:
    """Write the seal over the last bytes of a whole zip, which must be kept free for it."""
    made = _seal_of(file)
    file.seek(-SEAL, os.SEEK_END)
    file.write(made)
    file.flush()


def _seal_of(file: IO[bytes]) -> bytes:
    left = file.seek(0, os.SEEK_END) - SEAL
    file.seek(0)
    digest = hashlib.sha256()
    while left > 0 and (part := file.read(min(CHUNK, left))):
        digest.update(part)
        left -= len(part)
    return digest.hexdigest().encode()


def _write_table(
    out: zipfile.ZipFile, shape: Shape, lines: Iterable[bytes], contents: Contents, told: Told
) -> None:
    def done(found: Sum) -> None:
        contents.sums[shape.name] = found

    with out.open(_table_file(shape.name), "w", force_zip64=True) as member:
        for line in measured(lines, done, lambda rows: told(shape.name, rows)):
            member.write(line)


def _write_picture(out: zipfile.ZipFile, path: Path, contents: Contents) -> bool:
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return False
    digest = hashlib.sha256(raw).hexdigest()
    if path.stem != digest:
        return False
    about = zipfile.ZipInfo(_picture_file(digest))
    about.external_attr = 0o600 << 16
    out.writestr(about, raw)  # stored as it is: a JPEG gets no smaller
    contents.pictures[digest] = len(raw)
    return True


def _table_file(name: str) -> str:
    return f"tables/{name}.jsonl"


def _picture_file(digest: str) -> str:
    return f"pictures/{digest}.jpg"


# -- reading -------------------------------------------------------------------------------------------------------


class Archive:
    """A back-up whose seal was whole when it was opened; `verify` proves that its parts are what it says of them."""

    def __init__(self, file: IO[bytes]) -> None:
        if _seal_of(file) != file.read():
            raise DamagedBackup("It is no back-up, or not a byte for byte copy of one: cut off, or changed.")
        try:
            self._zip = zipfile.ZipFile(file)
        except zipfile.BadZipFile as error:
            raise DamagedBackup("It is sealed, and it is no zip.") from error
        self.contents = Contents.from_json(self._all(MANIFEST))

    @classmethod
    @contextlib.contextmanager
    def opened(cls, path: Path) -> Iterator[Self]:
        if not path.is_file():
            raise DamagedBackup(f"There is no file {path}.", todo="Name the file that `backup` wrote.")
        with path.open("rb") as file:
            yield cls(file)

    def verify(self, told: Told = lambda _name, _rows: None) -> None:
        """Read everything and compare it with the manifest. Raises `DamagedBackup` naming what is wrong."""
        said = self.contents
        wanted = {MANIFEST, *map(_table_file, said.sums), *map(_picture_file, said.pictures)}
        wanted |= {SECRET} if said.secret_sha256 else set()
        odd = sorted(wanted ^ set(self._zip.namelist()))
        if odd:
            raise DamagedBackup(f"Parts are missing, or there are too many: {', '.join(odd[:5])}.")
        wrong = [
            f"the table {name}"
            for name, want in said.sums.items()
            if sum_of(name, self.lines(name), told) != want
        ]
        wrong += [f"the picture {sha}" for sha in said.pictures if self._digest(_picture_file(sha)) != sha]
        if said.secret_sha256 and self._digest(SECRET) != said.secret_sha256:
            wrong.append("the secret")
        if wrong:
            raise DamagedBackup(f"Damaged: {', '.join(wrong[:5])}.")

    def lines(self, name: str) -> Iterator[bytes]:
        """A table's lines, one after another."""
        with self._open(_table_file(name)) as member:
            try:
                yield from member
            except (OSError, zipfile.BadZipFile, EOFError, zlib.error) as error:
                raise DamagedBackup(f"Damaged: the table {name}.") from error

    def secret(self) -> bytes | None:
        return self._all(SECRET) if self.contents.secret_sha256 else None

    def pictures(self) -> Iterator[tuple[str, bytes]]:
        for sha in self.contents.pictures:
            yield sha, self._all(_picture_file(sha))

    def _digest(self, name: str) -> str:
        digest = hashlib.sha256()
        with self._open(name) as member:
            try:
                while part := member.read(CHUNK):
                    digest.update(part)
            except (OSError, zipfile.BadZipFile, EOFError, zlib.error):
                return "unreadable"
        return digest.hexdigest()

    def _open(self, name: str) -> IO[bytes]:
        try:
            return self._zip.open(name)
        except (KeyError, OSError, zipfile.BadZipFile) as error:
            raise DamagedBackup(f"A part is missing or unreadable: {name}.") from error

    def _all(self, name: str) -> bytes:
        with self._open(name) as member:
            try:
                return member.read()
            except (OSError, zipfile.BadZipFile, EOFError, zlib.error) as error:
                raise DamagedBackup(f"A part is unreadable: {name}.") from error
