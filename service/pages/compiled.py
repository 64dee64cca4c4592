"""Compiled templates lie where Python keeps compiled modules, and obey the same settings."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from importlib.util import cache_from_source
from pathlib import Path
from pickle import UnpicklingError

from jinja2.bccache import Bucket, BytecodeCache


class CompiledTemplates(BytecodeCache):
    """Compiling a template takes a hundred times as long as reading it compiled."""

    def get_cache_key(self, name: str, filename: str | None = None) -> str:
        """The file it is kept in. What it was made from is compared inside, so that an old one is never used."""
        assert filename is not None
        return str(Path(cache_from_source(filename)).with_suffix(".template"))

    def load_bytecode(self, bucket: Bucket) -> None:
        try:
            with Path(bucket.key).open("rb") as file:
                bucket.load_bytecode(file)
        except (OSError, EOFError, ValueError, UnpicklingError):
            bucket.reset()  # missing or damaged: compiled anew

    def dump_bytecode(self, bucket: Bucket) -> None:
        if sys.dont_write_bytecode:
            return
        kept = Path(bucket.key)
        written = kept.with_suffix(f".{os.getpid()}-{threading.get_ident()}")
        with contextlib.suppress(OSError):  # the program's own folder may be closed to who runs it
            kept.parent.mkdir(parents=True, exist_ok=True)
            with written.open("xb") as file:
                bucket.write_bytecode(file)
            written.replace(kept)
