"""Servers that die: a process that starts the service again and again, each time in a child of its own.

Everything is imported once, so that a start after a death takes a moment only. Each line read is an order:
`{"url", "data_dir", "point", "arrivals"}`; the child kills itself when it comes to the point for that time, or never
where no point is named. Answered by its process id and port once it listens.
"""

from __future__ import annotations

import json
import os
import signal
import socket
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import uvicorn

from service.app import create_app
from service.lib.settings import Settings

NOW = datetime(2026, 2, 14, 10, 0, tzinfo=UTC)


def dies_at(point: str, arrivals: int) -> Any:
    left = [arrivals]

    def reached(here: str) -> None:
        if here == point:
            left[0] -= 1
            if left[0] == 0:
                os.kill(os.getpid(), signal.SIGKILL)

    return reached


def serve(order: dict[str, Any], listener: socket.socket) -> None:
    settings = Settings(
        data_dir=Path(order["data_dir"]),
        database_url=order["url"],
        fixed_now=NOW,
        group_wait_ms=4,
        token_calls_per_minute=10**6,
    )
    app = create_app(settings)
    app.state.writer.reached = dies_at(order["point"], order["arrivals"])
    config = uvicorn.Config(
        app, log_level="critical", access_log=False, ws="none", timeout_graceful_shutdown=1
    )
    uvicorn.Server(config).run(sockets=[listener])


def main() -> None:
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the dead leave nothing behind
    print("ready", flush=True)
    for line in sys.stdin:
        listener = socket.socket()
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        child = os.fork()
        if child == 0:
            os.close(0)
            serve(json.loads(line), listener)
            os._exit(0)
        print(json.dumps({"pid": child, "port": listener.getsockname()[1]}), flush=True)
        listener.close()


if __name__ == "__main__":
    main()
