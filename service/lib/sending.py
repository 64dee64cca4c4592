"""A file that is made for whoever asks, sent, and gone again."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

import anyio
import anyio.to_thread
from starlette.responses import FileResponse
from starlette.types import Receive, Scope, Send

_ONE_AT_A_TIME = anyio.Semaphore(1)  # such a file reads the whole record


async def send_made(make: Callable[[Path], object], name: str, media_type: str) -> FileResponse:
    """Make a file in a folder of its own, off the event loop and one at a time, and send it under this name.

    The folder is thrown away after the answer, and at once where the making fails.
    """
    async with _ONE_AT_A_TIME:
        folder = await anyio.to_thread.run_sync(lambda: Path(tempfile.mkdtemp(prefix="scion-")))
        path = folder / name
        try:
            await anyio.to_thread.run_sync(make, path)
        except BaseException:
            shutil.rmtree(folder, ignore_errors=True)
            raise
    return _SentOnce(path, media_type=media_type, filename=name, headers={"Cache-Control": "no-store"})


class _SentOnce(FileResponse):
    """Its folder goes however the sending ends: a background task does not run where a range cannot be served."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        try:
            await super().__call__(scope, receive, send)
        finally:
            shutil.rmtree(Path(self.path).parent, ignore_errors=True)
