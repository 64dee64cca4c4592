"""Wood of an old list entered by the acts of its stages, so that every guard holds: stops, areas, owners, rights."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlmodel import Session

from service.exchange import actions as exchange_actions
from service.exchange.schemas import HandOverCreate
from service.lib.errors import Problem
from service.lists.actions.boxes import place_boxes, split_by_boxes
from service.lists.actions.needed import Made, Needed, Row
from service.lists.queries import Plan, WoodRow
from service.lists.rules import ListRowsRefused, ThingKind
from service.members.rules import Member
from service.storage import actions as storage_actions
from service.tags import actions as tag_actions

AT_ONCE = 200
R = TypeVar("R", bound=Row)


@dataclass
class Brought:
    """Each thing of a list with its line, rows that the record refuses, and rows that came in once such a row was out."""

    made: list[Made]
    refused: dict[int, Problem]
    late: Sequence[int] = ()


def take_rows(
    needed: Needed, session: Session, rows: Sequence[R], enter: Callable[[Sequence[R]], None], *, leave_refused: bool
) -> dict[int, Problem]:  # fmt: skip
    """All rows, or none and what is wrong with which; with `leave_refused` the sound ones. Gives the refused by line."""
    refused = enter_rows(needed, session, rows, enter)
    if refused and (not leave_refused or len(refused) == len(rows)):
        raise ListRowsRefused(refused, len(rows))
    return refused


def enter_rows(
    needed: Needed, session: Session, rows: Sequence[R], enter: Callable[[Sequence[R]], None]
) -> dict[int, Problem]:
    """The sound ones of these rows; gives the refused by line.

    Many rows are entered at once; where these are refused, each half of them by itself, so that one bad row costs little.
    """
    refused: dict[int, Problem] = {}
    left = [rows[begin : begin + AT_ONCE] for begin in range(0, len(rows), AT_ONCE)][::-1]
    while left:
        some = left.pop()
        try:
            with session.begin_nested():
                made = needed.bring(some)
                enter(some)
        except Problem as problem:
            if len(some) == 1:
                refused[some[0].line] = problem
            else:
                left += [some[len(some) // 2 :], some[: len(some) // 2]]
        else:
            needed.keep(made)
    return refused


def take_wood(session: Session, member: Member, plan: Plan, *, leave_refused: bool) -> Brought:
    """Cuts, receipts, their bundles with new tags, where they lie and who has them."""

    def enter(rows: Sequence[WoodRow]) -> None:
        _enter(session, member, rows)

    needed = Needed(session, member, plan)
    refused = enter_rows(needed, session, plan.wood, enter)
    taken = [row for row in plan.wood if row.line not in refused]
    late = _enter_hanging(needed, session, taken, plan.hanging, enter) if refused and leave_refused else []
    taken += late
    if refused and (not leave_refused or not taken):
        raise ListRowsRefused(refused, len(plan.wood))
    place_boxes(session, member, needed, taken)
    made = [one for row in taken for one in _made(row)]
    return Brought([*needed.made, *made], refused, sorted(row.line for row in late))


def _enter_hanging(
    needed: Needed, session: Session, taken: Sequence[WoodRow], hanging: Sequence[WoodRow],
    enter: Callable[[Sequence[WoodRow]], None],
) -> list[WoodRow]:  # fmt: skip
    """Rows that only a refused row spoke against come in after all; gives them."""
    late: list[WoodRow] = []
    while hanging:
        fitting, hanging = split_by_boxes([*taken, *late], hanging)
        refused = enter_rows(needed, session, fitting, enter)
        late += [row for row in fitting if row.line not in refused]
        if not refused:
            break
    return late


def _made(row: WoodRow) -> Iterator[Made]:
    yield ThingKind.COLLECTION, row.collection_id, row.line
    yield ThingKind.BUNDLE, row.bundle_id, row.line
    if row.child_id is not None:
        yield ThingKind.BUNDLE, row.child_id, row.line


def _enter(session: Session, member: Member, rows: Sequence[WoodRow]) -> None:
    cuts: list[Any] = [row.cut for row in rows if row.cut is not None]
    receipts: list[Any] = [row.receipt for row in rows if row.receipt is not None]
    if cuts:
        tag_actions.collect_and_label(session, member, cuts)
    if receipts:
        tag_actions.receive_and_label(session, member, receipts)
    lying = [row.put for row in rows if row.put is not None]
    if lying:
        storage_actions.put_away(session, member, lying)
    handed = [_hand_over(row) for row in rows if row.holder_id is not None]
    if handed:
        exchange_actions.hand_over(session, member, handed)


def _hand_over(row: WoodRow) -> HandOverCreate:
    assert row.child_id is not None
    return HandOverCreate(
        bundle_id=row.bundle_id, sticks=row.sticks, party_id=row.holder_id, child_id=row.child_id, done_at=row.at,
        reason="as an old list tells it",
    )  # fmt: skip
