"""QR symbols of one fixed size, drawn as a single filled path.

Version 3 with error correction level Q takes 47 signs of the alphanumeric mode of ISO/IEC 18004: capitals,
figures and a few marks. The symbol is always 29 modules wide, so one layout serves every label.
"""

from __future__ import annotations

from functools import lru_cache
from html import escape

VERSION = 3
MODULES = 17 + 4 * VERSION
QUIET_ZONE = 4
CAPACITY = 47
SIGNS = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
# The encoder may choose the mask freely for a reader; trying all eight is nine tenths of the work.
_MASK = 2

Matrix = tuple[tuple[bool, ...], ...]
Point = tuple[int, int]
Outline = tuple[Point, ...]


@lru_cache(maxsize=4096)
def matrix(payload: str) -> Matrix:
    """The modules of the symbol, row by row from the top, without the quiet zone; true is dark."""
    if len(payload) > CAPACITY or not set(payload) <= SIGNS:
        raise ValueError(
            f"a symbol takes at most {CAPACITY} capitals, figures and $%*+-./: but not {payload!r}"
        )
    # Imported here: a service that only answers scans never draws a symbol.
    from qrcode import QRCode, constants, util

    symbol = QRCode(version=VERSION, error_correction=constants.ERROR_CORRECT_Q, mask_pattern=_MASK)
    symbol.add_data(util.QRData(payload, mode=util.MODE_ALPHA_NUM), optimize=0)
    symbol.make(fit=False)
    return tuple(tuple(bool(m) for m in row) for row in symbol.modules)


@lru_cache(maxsize=4096)
def outlines(payload: str) -> tuple[Outline, ...]:
    """Closed outlines of the dark areas in modules from the top left corner, holes running the other way.

    No two outlines share an edge, so no renderer can show hairlines between modules.
    """
    return _trace(matrix(payload))


def _trace(modules: Matrix) -> tuple[Outline, ...]:
    edges = _edges(modules)
    loops: list[Outline] = []
    while edges:
        start = next(iter(edges))
        loops.append(_walk(edges, start))
    return tuple(loops)


def _edges(modules: Matrix) -> dict[Point, list[Point]]:
    """Borders between dark and light as steps of one module, the dark always on the right-hand side."""

    def dark(x: int, y: int) -> bool:
        return 0 <= y < len(modules) and 0 <= x < len(modules) and modules[y][x]

    edges: dict[Point, list[Point]] = {}
    for y in range(len(modules)):
        for x in range(len(modules)):
            if not dark(x, y):
                continue
            if not dark(x, y - 1):
                edges.setdefault((x, y), []).append((x + 1, y))
            if not dark(x + 1, y):
                edges.setdefault((x + 1, y), []).append((x + 1, y + 1))
            if not dark(x, y + 1):
                edges.setdefault((x + 1, y + 1), []).append((x, y + 1))
            if not dark(x - 1, y):
                edges.setdefault((x, y + 1), []).append((x, y))
    return edges


def _walk(edges: dict[Point, list[Point]], start: Point) -> Outline:
    """Take one closed outline out of `edges`, keeping only its corners."""
    corners: list[Point] = []
    at, heading = start, (0, 0)
    while True:
        nexts = edges[at]
        # Where two dark modules touch at a corner, turn right: it stays round the same module.
        step = (
            nexts[0]
            if len(nexts) == 1
            else next(n for n in nexts if _turns_right(heading, (n[0] - at[0], n[1] - at[1])))
        )
        nexts.remove(step)
        if not nexts:
            del edges[at]
        new = (step[0] - at[0], step[1] - at[1])
        if new != heading:
            corners.append(at)
        at, heading = step, new
        if at == start:
            return tuple(corners)


def _turns_right(heading: Point, new: Point) -> bool:
    return heading == (0, 0) or new == (-heading[1], heading[0])


def svg_path(payload: str, *, offset: int = QUIET_ZONE) -> str:
    """The `d` of one SVG path, shifted by the quiet zone."""
    return _path(outlines(payload), offset)


def _path(drawn: tuple[Outline, ...], offset: int) -> str:
    parts = []
    for outline in drawn:
        (x, y), *rest = outline
        draw = [f"M{x + offset} {y + offset}"]
        for nx, ny in rest:
            draw.append(f"h{nx - x}" if ny == y else f"v{ny - y}")
            x, y = nx, ny
        parts.append("".join(draw) + "z")
    return "".join(parts)


def svg(payload: str, *, text: str) -> str:
    """The symbol with its quiet zone as an SVG picture; `text` says in words what it leads to."""
    return _picture(MODULES, svg_path(payload), text)


def link_svg(address: str, *, text: str) -> str:
    """A symbol of whatever size a web address needs, for a page or a printed letter; nothing is bound to it."""
    from qrcode import QRCode, constants

    symbol = QRCode(error_correction=constants.ERROR_CORRECT_M)
    symbol.add_data(address)
    symbol.make(fit=True)
    modules = tuple(tuple(bool(m) for m in row) for row in symbol.modules)
    # A side of its own, as a page's rules for pictures know nothing of letters.
    return _picture(len(modules), _path(_trace(modules), QUIET_ZONE), text).replace(
        " viewBox", ' width="264" viewBox', 1
    )


def _picture(modules: int, path: str, text: str) -> str:
    side = modules + 2 * QUIET_ZONE
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" aria-label="{escape(text)}">'
        f'<path fill="#fff" d="M0 0h{side}v{side}h-{side}z"/>'
        f'<path fill="#000" d="{path}"/></svg>'
    )
