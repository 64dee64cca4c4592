"""The life line: one line from the cut to where the wood is now, with a mark for everything that happened."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from service.bundles.schemas import BundleRead
from service.pages.pictures.drawing import svg, text
from service.provenance.schemas import EventRead

WIDTH, LEFT, RIGHT, LINE = 400.0, 16.0, 16.0, 34.0
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def life_line_of(events: Sequence[EventRead], bundle: BundleRead) -> str:
    """Draw a bundle's events along its line. No share alive is drawn: none is known here."""
    if not events:
        return svg("life", "Life line", "Nothing is recorded yet.", WIDTH, 48, "")
    first, last = events[0].done_at, events[-1].done_at
    span = max((last - first).total_seconds(), 86_400.0)

    def place(at: datetime) -> float:
        return LEFT + 10 + (WIDTH - LEFT - RIGHT - 20) * (at - first).total_seconds() / span

    thick = 3 + min(6.0, bundle.on_hand / 4)
    end = WIDTH - RIGHT
    body = [
        f'<path d="M{LEFT:g} {LINE + 7:g}L{LEFT + 8:g} {LINE - 7:g}" stroke="var(--bark)" stroke-width="3"/>',
        f'<path d="M{LEFT + 4:g} {LINE:g}H{end:g}" stroke="var(--bark)" stroke-width="{thick:g}" stroke-linecap="square"/>',
        *(_mark(event, place(event.done_at)) for event in events),
        text(LEFT, 66, _day(first), kind="quiet"),
        text(end, 66, _day(last), kind="quiet", anchor="end"),
    ]
    if bundle.stopped:
        body.append(
            f'<rect x="{end - 60:g}" y="{LINE - 8:g}" width="60" height="16" fill="url(#life-hatch)"/>'
        )
    told = f"{len(events)} events from {_day(first)} to {_day(last)}; {bundle.on_hand} sticks on hand" + (
        "; stopped" if bundle.stopped else ""
    )
    return svg("life", "Life line of this bundle", told, WIDTH, 76, "".join(body))


def _day(at: datetime) -> str:
    return f"{at.day} {_MONTHS[at.month - 1]} {at.year}"


def _mark(event: EventRead, x: float) -> str:
    """A shape by kind: a look above the line, a place below, a graft a fork, a stop a bar."""
    match event.kind:
        case "look":
            return f'<circle cx="{x:g}" cy="{LINE - 14:g}" r="4" fill="none" stroke="var(--ink)" stroke-width="1.5"/>'
        case "place":
            return f'<rect x="{x - 4:g}" y="{LINE + 9:g}" width="8" height="8" fill="var(--water)"/>'
        case "graft" | "take":
            return f'<path d="M{x:g} {LINE:g}l8 -14m-8 14l-8 -14" stroke="var(--bud)" stroke-width="2.5" fill="none"/>'
        case "stop":
            return f'<path d="M{x:g} {LINE - 14:g}v28" stroke="var(--stop)" stroke-width="3"/>'
        case "tag":
            return ""
    return f'<path d="M{x:g} {LINE - 9:g}v18" stroke="var(--bark)" stroke-width="2"/>'
