"""A socket between the service and PostgreSQL that can lose the answer to the next COMMIT."""

from __future__ import annotations

import contextlib
import socket
import threading
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Self

COMMIT = b"COMMIT\x00"
NAME = ".s.PGSQL.5432"


class LossyLine:
    """Passes bytes both ways; once told, it lets one COMMIT through, waits until it is done, and goes dead."""

    def __init__(self, server: str) -> None:
        # A socket's path may have about 100 signs.
        self.folder = TemporaryDirectory(prefix="line-", dir="/tmp")
        self.server = str(Path(server) / NAME)
        self.lose_next = False
        self.lost = 0
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(Path(self.folder.name) / NAME))
        self._listener.listen(64)
        threading.Thread(target=self._serve, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._listener.close()
        self.folder.cleanup()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                far = socket.socket(socket.AF_UNIX)
                far.connect(self.server)
                losing = threading.Event()
                threading.Thread(target=self._up, args=(near, far, losing), daemon=True).start()
                threading.Thread(target=self._down, args=(far, near, losing), daemon=True).start()

    def _up(self, near: socket.socket, far: socket.socket, losing: threading.Event) -> None:
        with contextlib.suppress(OSError):
            while said := near.recv(65536):
                if self.lose_next and COMMIT in said:
                    self.lose_next = False
                    losing.set()
                far.sendall(said)
        far.close()

    def _down(self, far: socket.socket, near: socket.socket, losing: threading.Event) -> None:
        with contextlib.suppress(OSError):
            while heard := far.recv(65536):
                if losing.is_set():  # the server has answered: the commit is done, and nobody hears of it
                    self.lost += 1
                    break
                near.sendall(heard)
        for line in (near, far):
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)
            line.close()
