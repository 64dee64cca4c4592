"""Everything that happened to one bundle, from every stage, in one list."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, time
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import Boolean, Integer, and_, false, func, literal, null, or_, select, union_all
from sqlalchemy import cast as sql_cast
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.bundles.rules import MoveKind
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.catalogue.tables import Rootstock
from service.collection.tables import NameCorrection, TimeCorrection, TreeCorrection
from service.grafting.tables import Graft, GraftWood, TakeCheck
from service.lib.clock import local_day
from service.members.queries import club
from service.members.tables import Party
from service.provenance.queries.telling import parties_by_id
from service.provenance.rules.card import LookFacts
from service.provenance.rules.lineage import NoSuchThing
from service.provenance.rules.telling import HOLDER_FORGOTTEN
from service.provenance.rules.timeline import (
    Event,
    EventKind,
    MoveFacts,
    graft_sentence,
    in_order,
    look_sentence,
    move_words,
    name_sentence,
    packing_sentence,
    put_words,
    release_sentence,
    stop_sentence,
    take_sentence,
    time_sentence,
    tree_sentence,
    weight_sentence,
)
from service.provenance.rules.words import day
from service.provenance.schemas import EventRead, TimelineRead
from service.storage.rules.packing import Packed
from service.storage.tables import BagWeighing, Box, BundleCheck, BundlePacking, Place, PutAway, Stay, Store
from service.tags.tables import Tag
from service.trees.rules import StopState
from service.trees.tables import SourceTree, Stop, StopRelease, StopStep

_Other = aliased(Bundle, name="other")
_Moved = aliased(Box, name="moved")
_Into = aliased(Box, name="into_box")
_Was, _Is = aliased(SourceTree, name="tree_before"), aliased(SourceTree, name="tree_after")


def timeline(session: Session, bundle_id: UUID, *, with_names: bool = False) -> list[EventRead]:
    """A bundle's life in order; at most fifteen statements whatever its length. Names only for who handles people's wood."""
    zone = club(session).zone
    events = [
        *_moves(session, bundle_id, with_names), *_places(session, bundle_id), *_looks(session, bundle_id, zone),
        *_stops(session, bundle_id), *_grafts(session, bundle_id, zone), *_takes(session, bundle_id, zone), *_tags(session, bundle_id),
        *_corrections(session, bundle_id, zone),
    ]  # fmt: skip
    people = {one for event in events for one in (event.by_id, event.for_id) if one} if with_names else set()
    names = {
        party.id: HOLDER_FORGOTTEN if party.forgotten else party.name
        for party in parties_by_id(session, people)
    }
    return [_read(event, names) for event in in_order(events)]


def get_timeline(session: Session, bundle_id: UUID, *, with_names: bool = False) -> TimelineRead:
    """Raises `NoSuchThing`."""
    row = session.execute(select(col(Bundle.code)).where(col(Bundle.id) == bundle_id)).first()
    if row is None:
        raise NoSuchThing("There is no bundle with this id.", id=str(bundle_id))
    return TimelineRead(
        bundle_id=bundle_id, code=row.code, events=timeline(session, bundle_id, with_names=with_names)
    )


def _read(event: Event, names: dict[UUID, str]) -> EventRead:
    for_id = event.for_id if event.for_id != event.by_id else None
    return EventRead(
        kind=event.kind, words=event.words, done_at=event.done_at, recorded_at=event.recorded_at, late=event.late,
        by=names.get(event.by_id, "") if event.by_id else "", on_behalf_of=names.get(for_id, "") if for_id else "",
        thing_id=event.thing_id, act=event.act, sticks=event.sticks,
    )  # fmt: skip


def _moves(session: Session, bundle_id: UUID, with_names: bool) -> Iterator[Event]:
    rows = session.execute(
        select(
            StickMove,
            col(_Other.code).label("other_code"),
            col(Party.name).label("party"),
            col(Party.forgotten_at),
        )
        .outerjoin(_Other, col(_Other.id) == col(StickMove.other_bundle_id))
        .outerjoin(Party, col(Party.id) == col(StickMove.party_id))
        .where(col(StickMove.bundle_id) == bundle_id)
        .order_by(col(StickMove.seq))
    )
    for row in rows:
        move: StickMove = row.StickMove
        party = "" if row.party is None else _shown(row, with_names)
        # What went outside says to whom in its reason.
        reason = "" if move.kind == MoveKind.GIVEN_OUTSIDE and not with_names else move.reason
        facts = MoveFacts(MoveKind(move.kind), move.sticks, move.form, row.other_code, party, reason)
        yield Event(
            EventKind.MOVE, move_words(facts), move.done_at, move.recorded_at, move.seq or 0, move.by_party_id, move.for_party_id,
            thing_id=move.other_bundle_id, act=move.kind, sticks=move.came_in - move.passed_on - move.grafted - move.discarded,
        )  # fmt: skip


def _shown(row: Any, with_names: bool) -> str:
    if row.forgotten_at is not None:
        return HOLDER_FORGOTTEN
    return row.party if with_names else "somebody"


def _places(session: Session, bundle_id: UUID) -> Iterator[Event]:
    """Where the bundle was put, and where its box was put while it lay in it."""
    rows = session.execute(_puts().where(col(PutAway.bundle_id) == bundle_id)).all()
    in_box = and_(
        col(Stay.bundle_id) == bundle_id, col(Stay.into_box_id) == col(PutAway.box_id), col(Stay.from_at) < col(PutAway.done_at),
        or_(col(Stay.until_at).is_(None), col(PutAway.done_at) < col(Stay.until_at)),
    )  # fmt: skip
    rows += session.execute(_puts().join(Stay, in_box)).all()  # type: ignore[operator]
    for put, box, into_box, place, store in rows:
        words = put_words(into_box=into_box or "", store=store or "", place=place or "", box=box or "")
        yield Event(
            EventKind.PLACE, words, put.done_at, put.recorded_at, put.seq or 0, put.by_party_id, put.for_party_id,
            thing_id=put.into_box_id or put.box_id, act="in" if into_box or store else "out",
        )  # fmt: skip


def _puts() -> Any:
    return (
        select(PutAway, col(_Moved.name), col(_Into.name), col(Place.name), col(Store.name))
        .outerjoin(_Moved, col(_Moved.id) == col(PutAway.box_id))
        .outerjoin(_Into, col(_Into.id) == col(PutAway.into_box_id))
        .outerjoin(Place, col(Place.id) == col(PutAway.place_id))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
    )


def _looks(session: Session, bundle_id: UUID, zone: str) -> Iterator[Event]:
    """Looks at the bundle, its bag on a scale, and how it is packed."""
    for row in session.execute(union_all(_seen(bundle_id), _weighed(bundle_id), _packed(bundle_id))):
        if row.what == "packed":
            # The columns of a look stand for those of a packing.
            words = packing_sentence(Packed.told(row.buds, row.wrinkled, row.mould), row.note)
        elif row.what == "looked":
            day = local_day(row.seen_at, zone)
            facts = LookFacts(day, row.buds, row.wrinkled, row.mould, row.green_under_scratch)
            words = look_sentence(facts, row.note)
        else:
            words = weight_sentence(row.tenths / 10, row.moment, row.note, taken_back=row.taken_back)
        yield Event(
            EventKind.LOOK, words, row.seen_at, row.recorded_at, 0, row.by_party_id, row.for_party_id,
            act="" if row.what == "looked" else row.what,
        )  # fmt: skip


def _seen(bundle_id: UUID) -> Any:
    return select(
        col(BundleCheck.seen_at), col(BundleCheck.recorded_at), col(BundleCheck.by_party_id), col(BundleCheck.for_party_id),
        col(BundleCheck.note), col(BundleCheck.buds), col(BundleCheck.wrinkled), col(BundleCheck.mould),
        col(BundleCheck.green_under_scratch), sql_cast(null(), Integer).label("tenths"), literal("").label("moment"),
        false().label("taken_back"), literal("looked").label("what"),
    ).where(col(BundleCheck.bundle_id) == bundle_id)  # fmt: skip


def _weighed(bundle_id: UUID) -> Any:
    nothing = sql_cast(null(), Boolean)
    return select(
        col(BagWeighing.weighed_at), col(BagWeighing.recorded_at), col(BagWeighing.by_party_id), col(BagWeighing.for_party_id),
        col(BagWeighing.note), literal(""), nothing.label("n1"), nothing.label("n2"), nothing.label("n3"), col(BagWeighing.tenths),
        col(BagWeighing.moment), col(BagWeighing.taken_back_at).is_not(None), literal("weighed"),
    ).where(col(BagWeighing.bundle_id) == bundle_id)  # fmt: skip


def _packed(bundle_id: UUID) -> Any:
    return select(
        col(BundlePacking.done_at), col(BundlePacking.recorded_at), col(BundlePacking.by_party_id), col(BundlePacking.for_party_id),
        col(BundlePacking.note), func.coalesce(col(BundlePacking.packing), ""), col(BundlePacking.waxed), col(BundlePacking.disinfected),
        sql_cast(null(), Boolean), sql_cast(null(), Integer), literal(""), false(), literal("packed"),
    ).where(col(BundlePacking.bundle_id) == bundle_id)  # fmt: skip


def _stops(session: Session, bundle_id: UUID) -> Iterator[Event]:
    """What was said of stops while they bound the bundle, and when it was let go by itself."""
    steps = session.execute(
        select(
            col(StopStep.state), col(StopStep.note), col(StopStep.at), col(StopStep.by_party_id), col(StopStep.for_party_id),
            col(Stop.id), col(Stop.reason), col(Stop.agent), col(BundleStop.placed_at), col(BundleStop.lifted_at),
        )
        .join(Stop, col(Stop.id) == col(StopStep.stop_id))
        .join(BundleStop, col(BundleStop.stop_id) == col(Stop.id))
        .where(col(BundleStop.bundle_id) == bundle_id)
        .order_by(col(StopStep.at))
    ).all()  # fmt: skip
    releases = session.execute(
        select(StopRelease, col(Stop.reason).label("of"))
        .join(Stop, col(Stop.id) == col(StopRelease.stop_id))
        .where(col(StopRelease.thing_id) == bundle_id, col(StopRelease.alone))
        .order_by(col(StopRelease.seq))
    ).all()
    for release, reason in releases:
        yield Event(
            EventKind.STOP, release_sentence(reason, release.reason), release.released_at, release.released_at, 2, release.by_party_id,
            release.for_party_id, thing_id=release.stop_id, act="released",
        )  # fmt: skip
    for row in steps:
        alone = [one for one, _ in releases if one.stop_id == row.id]
        spans = [(one.placed_at, one.released_at) for one in alone]
        if row.lifted_at is None or row.lifted_at not in [end for _, end in spans]:
            spans.append((row.placed_at, row.lifted_at))
        yield from _while_bound(row, spans)


def _while_bound(row: Any, spans: list[tuple[datetime, datetime | None]]) -> Iterator[Event]:
    """A step as the bundle met it: bound later, it is stopped from then on; free in between, it hears nothing."""
    words = stop_sentence(row.state, row.reason, row.agent, row.note)
    begins = row.state == StopState.SUSPECTED or not any(start <= row.at for start, _ in spans)
    for start, end in spans:
        if end is not None and row.at > end:
            continue
        if row.at < start and not begins:
            continue
        at = max(row.at, start)
        yield Event(
            EventKind.STOP,
            words,
            at,
            at,
            1,
            row.by_party_id,
            row.for_party_id,
            thing_id=row.id,
            act=row.state,
        )


def _grafts(session: Session, bundle_id: UUID, zone: str) -> Iterator[Event]:
    rows = session.execute(
        select(Graft, col(GraftWood.part), col(GraftWood.sticks), col(Rootstock.name), col(SourceTree.number))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .outerjoin(Rootstock, col(Rootstock.id) == col(Graft.rootstock_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Graft.stock_tree_id))
        .where(col(GraftWood.bundle_id) == bundle_id)
    )
    for graft, part, sticks, stock, tree in rows:
        on = stock or (f"tree {tree}" if tree else graft.stock_as_told)
        words = graft_sentence(graft.number, part, graft.grafts, sticks, graft.method, on)
        if graft.taken_back_at is not None:
            words += f" Recorded by mistake, taken back on {day(local_day(graft.taken_back_at, zone))}."
        yield Event(
            EventKind.GRAFT, words, graft.done_at, graft.recorded_at, 1_000_000_000, graft.by_party_id, graft.for_party_id,
            thing_id=graft.id,
        )  # fmt: skip


def _takes(session: Session, bundle_id: UUID, zone: str) -> Iterator[Event]:
    rows = session.execute(
        select(TakeCheck, col(Graft.number))
        .join(Graft, col(Graft.id) == col(TakeCheck.graft_id))
        .join(GraftWood, col(GraftWood.graft_id) == col(Graft.id))
        .where(col(GraftWood.bundle_id) == bundle_id)
    )
    for take, number in rows:
        # A look has a day, not an hour: when it was recorded, or noon of its day where that was another.
        noon = datetime.combine(take.seen_on, time(12), ZoneInfo(zone)).astimezone(UTC)
        seen_at = take.recorded_at if local_day(take.recorded_at, zone) == take.seen_on else noon
        words = take_sentence(
            number, take.alive, take.looked_at, take.doubtful, is_verdict=take.is_verdict, lost=take.other_cause,
            cause=take.cause or "",
        )  # fmt: skip
        yield Event(
            EventKind.TAKE,
            words,
            seen_at,
            take.recorded_at,
            0,
            take.by_party_id,
            take.for_party_id,
            thing_id=take.graft_id,
        )


def _tags(session: Session, bundle_id: UUID) -> Iterator[Event]:
    rows = session.execute(
        select(Tag).where(col(Tag.thing_id) == bundle_id).order_by(col(Tag.made_at))
    ).scalars()
    for tag in rows:
        on = "on the wood" if tag.placement == "wood" else "on the bag"
        yield Event(
            EventKind.TAG,
            f"Got the tag {tag.code[:4]} {tag.code[4:]} {on}.",
            tag.made_at,
            tag.made_at,
            0,
            tag.by_party_id,
        )


def _corrections(session: Session, bundle_id: UUID, zone: str) -> Iterator[Event]:
    """What was put right of the cut the bundle came of."""
    of_bundle = select(col(Bundle.collection_id)).where(col(Bundle.id) == bundle_id).scalar_subquery()
    names = session.execute(
        select(NameCorrection)
        .where(col(NameCorrection.collection_id) == of_bundle)
        .order_by(col(NameCorrection.seq))
    ).scalars()
    for name in names:
        yield Event(
            EventKind.CORRECTION, name_sentence(name.from_words, name.words, name.reason), name.recorded_at, name.recorded_at, 3,
            name.by_party_id, name.for_party_id, thing_id=name.collection_id, act="name",
        )  # fmt: skip
    times = session.execute(
        select(TimeCorrection)
        .where(col(TimeCorrection.collection_id) == of_bundle)
        .order_by(col(TimeCorrection.seq))
    ).scalars()
    for time_ in times:
        local = [at.astimezone(ZoneInfo(zone)) for at in (time_.from_done_at, time_.done_at)]
        before, after = (f"{day(at.date())}, {at:%H:%M}" for at in local)
        yield Event(
            EventKind.CORRECTION, time_sentence(before, after, time_.reason), time_.recorded_at, time_.recorded_at, 3, time_.by_party_id,
            time_.for_party_id, thing_id=time_.collection_id, act="time",
        )  # fmt: skip
    trees = session.execute(
        select(TreeCorrection, col(_Was.number).label("before"), col(_Is.number).label("after"))
        .join(_Was, col(_Was.id) == col(TreeCorrection.from_tree_id))
        .join(_Is, col(_Is.id) == col(TreeCorrection.tree_id))
        .where(col(TreeCorrection.collection_id) == of_bundle)
        .order_by(col(TreeCorrection.seq))
    )
    for of, before_no, after_no in trees:
        yield Event(
            EventKind.CORRECTION, tree_sentence(before_no, after_no, of.reason), of.recorded_at, of.recorded_at, 3,
            of.by_party_id, of.for_party_id, thing_id=of.collection_id, act="tree",
        )  # fmt: skip
