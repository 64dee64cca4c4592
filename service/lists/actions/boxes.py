"""Where the new boxes of a list stand: as the rows say that came into the record, and since when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.lists.actions.needed import Needed
from service.lists.queries import WoodRow
from service.members.rules import Member
from service.storage import actions as storage_actions
from service.storage.schemas import PutAwayCreate


@dataclass
class _Stands:
    """A new box by the rows told so far; `line` is the one that told its place."""

    store_id: UUID | None = None
    place_id: UUID | None = None
    line: int = 0
    since: datetime | None = None

    def fits(self, row: WoodRow) -> bool:
        return row.stands is None or row.stands.agrees(self.store_id, self.place_id)

    def follow(self, row: WoodRow) -> None:
        """Of a box the first store and place that a row tells, from the first day that any does."""
        told, at = row.stands, row.put.done_at if row.put is not None else None
        if told is not None and (self.store_id is None or (self.place_id is None and told.place_id)):
            self.store_id, self.place_id, self.line = told.store_id, told.place_id, row.line
        if at is not None:
            self.since = min(self.since or at, at)


@dataclass(frozen=True)
class _PlaceWanted:
    line: int
    needs: frozenset[UUID]


def _stand(rows: Iterable[WoodRow]) -> dict[UUID, _Stands]:
    boxes: dict[UUID, _Stands] = {}
    for row in rows:
        if row.put is not None and row.put.into_box_id is not None:
            boxes.setdefault(row.put.into_box_id, _Stands()).follow(row)
    return boxes


def split_by_boxes(taken: Iterable[WoodRow], rows: Sequence[WoodRow]) -> tuple[list[WoodRow], list[WoodRow]]:
    """Rows whose new box can stand where they say, beside what was taken and one another; and the rest."""
    boxes = _stand(taken)
    fitting: list[WoodRow] = []
    rest: list[WoodRow] = []
    for row in rows:
        assert row.stands is not None
        stands = boxes.setdefault(row.stands.box_id, _Stands())
        if stands.fits(row):
            stands.follow(row)
            fitting.append(row)
        else:
            rest.append(row)
    return fitting, rest


def place_boxes(session: Session, member: Member, needed: Needed, taken: Iterable[WoodRow]) -> None:
    """Put the new boxes where the rows say that were taken: no other row moves a box or its days."""
    boxes = {one: stands for one, stands in _stand(taken).items() if stands.store_id is not None}
    wanted = [_PlaceWanted(one.line, frozenset({one.place_id})) for one in boxes.values() if one.place_id]
    needed.keep(needed.bring(wanted))
    moves = [
        PutAwayCreate(
            box_id=box_id, place_id=stands.place_id, store_id=None if stands.place_id else stands.store_id, done_at=stands.since,
        )
        for box_id, stands in boxes.items()
    ]  # fmt: skip
    if moves:
        storage_actions.put_away(session, member, moves)
