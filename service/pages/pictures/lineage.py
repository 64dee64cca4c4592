"""The lineage: from tree to cut, bundle, graft, plant and on, one row a thing, indented by its step."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from service.lib.codes import group_code
from service.pages.pictures.drawing import svg, text
from service.provenance.queries.trace import Trace

ROW, STEP, MOST = 34.0, 18.0, 40


def lineage_of(trace: Trace, *, focus: UUID) -> str:
    """Draw a trace as the forking line. A big family is folded: what does not fit is counted."""
    told = trace.as_answer()
    nodes = {str(node["id"]): node for node in told["nodes"]}
    children: dict[str, list[str]] = {}
    has_parent = set()
    for edge in told["edges"]:
        earlier, later = str(edge["from_id"]), str(edge["to_id"])
        children.setdefault(earlier, []).append(later)
        has_parent.add(later)
    order: list[tuple[str, int, int | None]] = []
    seen: set[str] = set()

    def walk(start: str) -> None:
        waiting: list[tuple[str, int, int | None]] = [(start, 0, None)]
        while waiting:
            name, depth, above = waiting.pop()
            if name in seen or name not in nodes:
                continue
            seen.add(name)
            order.append((name, depth, above))
            here = len(order) - 1
            waiting.extend((child, depth + 1, here) for child in reversed(children.get(name, [])))

    for name in nodes:
        if name not in has_parent:
            walk(name)
    for name in nodes:
        walk(name)
    shown = order[:MOST]
    body = [
        _row(nodes[name], i, depth, above, shown, str(focus)) for i, (name, depth, above) in enumerate(shown)
    ]
    if len(order) > MOST:
        body.append(text(8, ROW * len(shown) + 22, f"+ {len(order) - MOST} more", kind="quiet"))
    height = ROW * (len(shown) + (len(order) > MOST)) + 8
    described = "; ".join(
        f"{nodes[name]['words']} {nodes[name]['name']}".strip() for name, _, _ in shown[:12]
    )
    return svg("lineage", f"Lineage, {len(nodes)} things", described, 420, height, "".join(body))


def _row(
    node: dict[str, Any],
    i: int,
    depth: int,
    above: int | None,
    shown: list[tuple[str, int, int | None]],
    focus: str,
) -> str:
    x, y = 12 + STEP * min(depth, 8), ROW * i + 18
    parts = []
    if above is not None and above < len(shown):
        top_x, top_y = 12 + STEP * min(shown[above][1], 8), ROW * above + 18
        parts.append(
            f'<path d="M{top_x:g} {top_y + 6:g}V{y - 10:g}q0 10 10 10H{x - 6:g}" fill="none" stroke="var(--bark)" stroke-width="2"/>'
        )
    fill = "url(#lineage-hatch)" if node["stopped"] else "var(--bark)"
    parts.append(
        f'<circle cx="{x:g}" cy="{y:g}" r="{8 if str(node["id"]) == focus else 6}" fill="{fill}" stroke="var(--bark)" stroke-width="2"/>'
    )
    words = str(node["words"])
    if node["code"] and group_code(node["code"]) not in words:
        words += f" {group_code(node['code'])}"
    if node["name"] and node["name"] not in words:
        words += f" · {node['name']}"
    if node["stopped"]:
        words += " · stopped"
    parts.append(
        text(
            x + 16,
            y + 5,
            words,
            weight=700 if str(node["id"]) == focus else 400,
            kind="stop" if node["stopped"] else "ink",
        )
    )
    return "".join(parts)
