"""Servers in processes of their own, and clients that cost little: requests as ready bytes over open connections."""

from __future__ import annotations

import asyncio
import json
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self
from uuid import uuid4

from service.members.signin import SESSION_COOKIE
from tests.infra.cast import Cast

ROOT = Path(__file__).resolve().parents[2]


class Server:
    """A running service and its port."""

    def __init__(self, process: subprocess.Popen[str], port: int) -> None:
        self.process = process
        self.port = port

    def get(self, cast: Cast | None, path: str, *, who: str = "steward") -> bytes:
        return _request("GET", path, _signed_in(cast, who))

    def post(self, cast: Cast, path: str, body: Any, *, who: str = "steward") -> bytes:
        """A change with a fresh key."""
        headers = {
            **_signed_in(cast, who), "Idempotency-Key": str(uuid4()), "Content-Type": "application/json",
            "Origin": f"http://127.0.0.1:{self.port}", "Host": f"127.0.0.1:{self.port}",
        }  # fmt: skip
        return _request("POST", path, headers, json.dumps(body).encode())


def _signed_in(cast: Cast | None, who: str) -> dict[str, str]:
    return {} if cast is None else {"Cookie": f"{SESSION_COOKIE}={cast.token(who)}"}


def _request(method: str, path: str, headers: dict[str, str], body: bytes = b"") -> bytes:
    lines = [
        f"{method} {path} HTTP/1.1",
        *(f"{name}: {value}" for name, value in {"Host": "club.test", **headers}.items()),
    ]
    return "\r\n".join([*lines, f"Content-Length: {len(body)}", "", ""]).encode() + body


@contextmanager
def serving(url: str, data_dir: Path, **order: Any) -> Iterator[Server]:
    """The service on a database, for as long as the block runs."""
    said = json.dumps({"url": url, "data_dir": str(data_dir), **order})
    with subprocess.Popen(
        [sys.executable, "-m", "tests.bench.server", said],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            server = Server(process, int(process.stdout.readline()))
            with Connection(server.port) as connection:
                connection.ask(_request("GET", "/bench/empty", {}))
            yield server
        finally:
            process.stdin.close()
            process.wait(20)


class Connection:
    """One open connection that asks and waits for the whole answer."""

    def __init__(self, port: int) -> None:
        self.port = port

    def __enter__(self) -> Self:
        give_up = time.monotonic() + 30
        while True:
            try:
                self.socket = socket.create_connection(("127.0.0.1", self.port))
                break
            except ConnectionRefusedError:
                if time.monotonic() > give_up:
                    raise
                time.sleep(0.01)
        self.socket.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self.file = self.socket.makefile("rb")
        return self

    def __exit__(self, *_: object) -> None:
        self.file.close()
        self.socket.close()

    def ask(self, request: bytes, status: int = 200) -> bytes:
        self.socket.sendall(request)
        told = int(self.file.readline().split()[1])
        length = 0
        while (line := self.file.readline()) != b"\r\n":
            name, _, value = line.partition(b":")
            if name.lower() == b"content-length":
                length = int(value)
        body = self.file.read(length)
        assert told == status, (told, body[:500])
        return body

    def seconds(self, request: bytes) -> float:
        began = time.perf_counter()
        self.ask(request)
        return time.perf_counter() - began


def seconds_at_once(port: int, hands: Sequence[Sequence[bytes]], status: int = 201) -> float:
    """How long it takes until every hand, each on a connection of its own, has sent all its requests and been answered."""

    async def hand(requests: Sequence[bytes]) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        for request in requests:
            writer.write(request)
            head = await reader.readuntil(b"\r\n\r\n")
            length = next(
                int(line.partition(b":")[2])
                for line in head.lower().split(b"\r\n")
                if line.startswith(b"content-length")
            )
            body = await reader.readexactly(length)
            assert head.split(maxsplit=2)[1] == str(status).encode(), (head, body[:500])
        writer.close()

    async def together() -> None:
        await asyncio.gather(*(hand(requests) for requests in hands))

    began = time.perf_counter()
    asyncio.run(together())
    return time.perf_counter() - began
