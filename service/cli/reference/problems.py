"""Every kind of problem with its status and what to do."""

from __future__ import annotations

import importlib
import pkgutil
from http import HTTPStatus

import service
from service.cli.reference.words import NOTE
from service.lib.errors import Problem, every_problem
from service.lib.request import STATUS, status_of_kind

HEAD = """# Problems

{note}
What goes wrong comes as a problem answer (RFC 9457) under `/api`, and as a page elsewhere.
Its `type` is the address below, under the service's own address: it opens a page that says the same.
`detail` tells the one case, `facts` the numbers and words behind it, `errors` every field that does not fit.
Where no next step stands here, the answer itself tells it. A change that met a problem wrote nothing, unless its `outcome` says otherwise.
"""


def _load_all() -> None:
    """Some parts are loaded only where they are needed; their problems are known then."""
    for found in pkgutil.walk_packages(service.__path__, "service."):
        if not found.name.startswith(("service.__main__", "service.migrations.", "service.lib.reencode")):
            importlib.import_module(found.name)


def errors_page() -> str:
    _load_all()
    kinds = {kind.slug(): kind for kind in every_problem()}
    rows = sorted((_status(kind), slug, kind) for slug, kind in kinds.items())
    parts = [HEAD.format(note=NOTE)]
    for status in sorted({status for status, _, _ in rows}):
        parts.append(f"## {status} {HTTPStatus(status).phrase}\n")
        parts.append("| type | what is wrong | what to do |\n| --- | --- | --- |")
        parts += [
            f"| `/problems/{slug}` | {kind.title} | {kind.todo} |" for at, slug, kind in rows if at == status
        ]
        parts.append("")
    return "\n".join(parts)


def _status(kind: type[Problem]) -> int:
    assert set(STATUS) & set(kind.__mro__), kind
    return status_of_kind(kind)
