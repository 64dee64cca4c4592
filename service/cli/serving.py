"""Starting the server."""

from __future__ import annotations

import gc
import socket
import sys

import uvicorn
from fastapi import FastAPI

from service.app import create_app
from service.cli.alone import serving_alone
from service.cli.upkeep import first_link, prepare, reached_at
from service.lib.settings import Settings


def serve_club(settings: Settings) -> None:
    """Prepare the data folder and the database, tell the first administrator's link, and serve."""
    with serving_alone(settings):
        _serve_prepared(settings)


def _serve_prepared(settings: Settings) -> None:
    prepare(settings)
    app = create_app(settings, background=True)
    listening = listen(settings.host, settings.port)
    address = reached_at(settings.host, listening.getsockname()[1])
    link = first_link(settings, address)
    if link:
        print(f"Nobody can sign in yet. The first administrator opens, once:\n  {link}", flush=True)
    print(f"Serving on {address}", flush=True)
    gc.freeze()
    gc.enable()
    run(app, listening)


def listen(host: str, port: int) -> socket.socket:
    """A socket that is bound already, so that its port can be told before the server runs."""
    listening = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError as error:
        sys.exit(
            f"Port {port} on {host} is taken or not allowed ({error.strerror}). Choose another with --port, or 0 for a free one."
        )
    return listening


def run(app: FastAPI, listening: socket.socket) -> None:
    config = uvicorn.Config(
        app, access_log=False, log_level="warning", server_header=False, timeout_graceful_shutdown=5
    )
    uvicorn.Server(config).run(sockets=[listening])
