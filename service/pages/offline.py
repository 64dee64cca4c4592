"""Where nothing answers: the one page phones keep, the same for everybody, and the worker that keeps it."""

from __future__ import annotations

import hashlib
import itertools

from fastapi import APIRouter, Request, Response
from starlette.responses import HTMLResponse

from service.lib.routing import PageRoute
from service.pages.forms import Form
from service.pages.render import ENVIRONMENT, Frame, frame, static

router = APIRouter(route_class=PageRoute)
OUT = "/out"
SCRIPTS = tuple(
    f"out/{name}.js" for name in ("kept", "codes", "pack", "deeds", "sending", "showing", "forms", "out")
)
SHELL = (
    "style.css", "scan.css", "out/out.css", "page.js", "scan.js", *SCRIPTS, "mark.svg", "mark-192.png", "manifest.json",
    "decoder/worker.js", "decoder/zxing_reader.js", "decoder/zxing_reader.wasm",
)  # fmt: skip


@router.get(OUT)
def get_out(request: Request) -> Response:
    """The page without reception. It names nobody: what it shows comes out of the phone that keeps it."""
    return HTMLResponse(_page(frame(request)), headers={"Cache-Control": "no-cache"})


@router.get("/sw.js")
def get_worker(request: Request) -> Response:
    """The worker that keeps that page, named by all that it keeps: another shell is another worker."""
    files = [static(name) for name in SHELL]
    told = ENVIRONMENT.get_template("out/worker.js")
    build = hashlib.sha256(
        "\n".join([*files, _page(frame(request)), told.render(name="", kept=[], out=OUT)]).encode()
    )
    worker = told.render(name=f"shell-{build.hexdigest()[:12]}", kept=[OUT, *files], out=OUT)
    return Response(worker, headers={"Cache-Control": "no-cache"}, media_type="text/javascript")


def _page(around: Frame) -> str:
    return ENVIRONMENT.get_template("out/out.html").render(
        frame=around, zone=around.zone, today=None, form=Form(), asker=None, rights=set(), path=OUT, scripts=SCRIPTS,
        next_number=itertools.count(1).__next__,
    )  # fmt: skip
