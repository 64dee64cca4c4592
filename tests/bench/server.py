"""The whole service in a process of its own, for timing: `python -m tests.bench.server '{"url": ..., "data_dir": ...}'`.

Beside the service's own routes it has two empty ones, which are part of the ceilings: one for anybody, one for whoever is
signed in. Prints its port once it listens, and ends when its input ends.
"""

from __future__ import annotations

import json
import os
import socket
import sys
import threading
from pathlib import Path
from typing import Annotated, Any

import uvicorn
from fastapi import FastAPI, Response

from service.app import create_app
from service.lib import write
from service.lib.settings import Settings
from service.members.rules import May
from service.members.signin import Asker, may


def empty() -> Response:
    return Response(b"{}", media_type="application/json")


def empty_for_readers(_member: Annotated[Asker, may(May.READ)]) -> Response:
    return Response(b"{}", media_type="application/json")


def app_for(order: dict[str, Any]) -> FastAPI:
    # A group of one is a commit for each action, in the same process, thread and route.
    write.GROUP_LIMIT = order.get("group_limit", write.GROUP_LIMIT)
    app = create_app(
        Settings(
            data_dir=Path(order["data_dir"]),
            database_url=order["url"],
            sqlite_synchronous=order.get("synchronous", "FULL"),
            token_calls_per_minute=10**6,
        )
    )
    app.add_api_route("/bench/empty", empty)
    app.add_api_route("/bench/empty-for-readers", empty_for_readers)
    return app


def _end_with_input() -> None:
    sys.stdin.read()
    os._exit(0)


def main() -> None:
    app = app_for(json.loads(sys.argv[1]))
    listener = socket.socket()
    listener.bind(("127.0.0.1", 0))
    listener.listen(256)
    print(listener.getsockname()[1], flush=True)
    threading.Thread(target=_end_with_input, daemon=True).start()
    config = uvicorn.Config(app, log_level="critical", access_log=False, server_header=False)
    uvicorn.Server(config).run(sockets=[listener])


if __name__ == "__main__":
    main()
