"""A line between a browser and the service that breaks about half of what is sent, before or after it arrived."""

from __future__ import annotations

import contextlib
import random
import socket
import threading
from types import TracebackType
from typing import Self

SENT = b"POST /api/"


class BadLine:
    """Passes bytes both ways. Of the requests that change something, a quarter never arrive, and a quarter are never answered."""

    def __init__(self, address: str, seed: int) -> None:
        host, port = address.removeprefix("http://").split(":")
        self.server = (host, int(port))
        self.before = self.after = self.posts = 0
        self._random = random.Random(seed)
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._listener.getsockname()[1]}"
        threading.Thread(target=self._serve, daemon=True).start()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._listener.close()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                far = socket.create_connection(self.server)
                losing = threading.Event()
                for work, one, other in ((self._up, near, far), (self._down, far, near)):
                    threading.Thread(target=work, args=(one, other, losing), daemon=True).start()

    def _up(self, near: socket.socket, far: socket.socket, losing: threading.Event) -> None:
        with contextlib.suppress(OSError):
            while said := near.recv(65536):
                if said.startswith(SENT):
                    self.posts += 1
                    fate = self._random.random()
                    if fate < 0.25:
                        self.before += 1
                        break
                    if fate < 0.5:
                        losing.set()
                far.sendall(said)
        _close(near, far)

    def _down(self, far: socket.socket, near: socket.socket, losing: threading.Event) -> None:
        with contextlib.suppress(OSError):
            while heard := far.recv(65536):
                if losing.is_set():  # the service has answered, so it is stored; nobody hears of it
                    self.after += 1
                    break
                near.sendall(heard)
        _close(near, far)


def _close(*lines: socket.socket) -> None:
    for line in lines:
        with contextlib.suppress(OSError):
            line.shutdown(socket.SHUT_RDWR)
        line.close()
