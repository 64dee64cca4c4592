"""Stops over all stages: one act binds a tree or a bundle and all that came of its wood."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from uuid import UUID

from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.bundles.queries import bundles_of_collections
from service.grafting import actions as grafting_actions
from service.lib.clock import local_day
from service.lib.write import recorded_at, touch_bundles
from service.members.queries import club
from service.members.rules import Member
from service.provenance import queries
from service.provenance.queries import Reach
from service.provenance.rules.stops import (
    Why,
    bound_since,
    check_can_confirm,
    check_can_release,
    winters_to_bind,
)
from service.provenance.schemas import StopBind, StopOnWoodRead, StopOpen, StopRelease
from service.trees import actions as tree_actions
from service.trees.queries import get_stop, open_stops_for_trees
from service.trees.schemas import StopCreate, StopRead, StopStepCreate


def open_stop(session: Session, member: Member, body: StopOpen) -> StopOnWoodRead:
    """Open a stop at a tree or a bundle. All that came of the wood is bound before anybody is answered."""
    check_can_confirm(member.may, body.state)
    return stop_tree(session, member, body) if body.tree_id else stop_bundle(session, member, body)


def stop_tree(session: Session, member: Member, body: StopOpen) -> StopOnWoodRead:
    """Bind trees, their wood of the winters asked for, and all that came of it."""
    assert body.tree_id is not None
    origins = list(dict.fromkeys([body.tree_id, *body.also_tree_ids]))
    home = club(session)
    today = local_day(recorded_at(session), home.zone)
    since = bound_since(
        today, winters_to_bind(body.reason, body.earlier_winters, home.recall_look_back_winters)
    )
    tree_actions.open_stop(session, member, _case(body), origins)
    _bind_reach(
        session,
        member,
        body.id,
        Why.ORIGIN,
        lambda: queries.reach_of_trees(session, origins, since),
        beside=origins,
    )
    return queries.stop_on_wood(session, get_stop(session, body.id), since)


def stop_bundle(session: Session, member: Member, body: StopOpen) -> StopOnWoodRead:
    """Bind one bundle and all that came of it; its tree and what lay beside it are proposed."""
    assert body.bundle_id is not None
    bundle = queries.get_bundle_to_stop(session, body.bundle_id)
    tree_actions.open_stop(session, member, _case(body), body.also_tree_ids)
    _bind_reach(
        session, member, body.id, Why.ORIGIN, lambda: queries.reach_of_bundles(session, [bundle]), beside=()
    )
    return queries.stop_on_wood(session, get_stop(session, body.id), None)


def bind_also(session: Session, member: Member, stop_id: UUID, body: StopBind) -> StopOnWoodRead:
    """Take further trees and bundles into a stop, with all that came of them."""
    stop = get_stop(session, stop_id)
    home = club(session)
    opened_on = local_day(stop.opened_at, home.zone)
    since = bound_since(
        opened_on, winters_to_bind(stop.reason, body.earlier_winters, home.recall_look_back_winters)
    )
    tree_actions.place_stop(session, member, stop_id, body.tree_ids)
    if body.tree_ids:
        _bind_reach(
            session,
            member,
            stop_id,
            body.why,
            lambda: queries.reach_of_trees(session, body.tree_ids, since),
            body.tree_ids,
        )
    if body.bundle_ids:
        queries.check_bundles_stand(session, body.bundle_ids)
        _bind_reach(
            session, member, stop_id, body.why, lambda: queries.reach_of_bundles(session, body.bundle_ids), ()
        )
    return queries.stop_on_wood(session, get_stop(session, stop_id), since)


def bind_cut_moved(
    session: Session, member: Member, tree_id: UUID, collection_id: UUID, was_cut_on: date, cut_on: date
) -> None:
    """A cut whose day was put right: bound by the open stops of its tree which reach back to the day it has now."""
    _bind_cut(
        session,
        member,
        tree_id,
        collection_id,
        lambda since: since is not None and was_cut_on < since <= cut_on,
    )


def bind_cut_of_tree(
    session: Session, member: Member, tree_id: UUID, collection_id: UUID, cut_on: date
) -> None:
    """A cut that turned out to come from this tree: bound by its open stops which reach back to the day of the cut."""
    _bind_cut(session, member, tree_id, collection_id, lambda since: since is None or since <= cut_on)


def _bind_cut(
    session: Session, member: Member, tree_id: UUID, collection_id: UUID, reached: Callable[[date | None], bool]
) -> None:  # fmt: skip
    home = club(session)
    for stop in open_stops_for_trees(session, [tree_id]).get(tree_id, []):
        winters = winters_to_bind(stop.reason, None, home.recall_look_back_winters)
        if reached(bound_since(stop.since, winters)):
            bundles = bundles_of_collections(session, [collection_id])
            find = partial(queries.reach_of_bundles, session, bundles)
            _bind_reach(session, member, stop.id, Why.LATE_ENTRY, find, ())


def release_from_stop(session: Session, member: Member, stop_id: UUID, body: StopRelease) -> StopOnWoodRead:
    """Let bundles go that were bound in error, with all that came of them and of no other bound wood; the rest stays bound."""
    stop = get_stop(session, stop_id)
    wanted = set(body.bundle_ids)
    bound = queries.bound_by(session, stop_id)
    check_can_release(wanted, bound, queries.parents_of(session, wanted))
    origins = [tree.tree_id for tree in stop.trees if tree.is_origin and tree.lifted_at is None]
    freed = queries.reach_released(session, wanted, bound, origins)
    bundle_actions.release_bundles(session, member, stop_id, freed.bundles & bound, body.reason)
    grafting_actions.release_plants(session, member, sorted(freed.all_plants), body.reason, stop_id)
    tree_actions.release_trees(session, member, stop_id, sorted(freed.all_trees - set(origins)), body.reason)
    home = club(session)
    winters = winters_to_bind(stop.reason, None, home.recall_look_back_winters)
    since = bound_since(local_day(stop.opened_at, home.zone), winters)
    return queries.stop_on_wood(session, get_stop(session, stop_id), since)


def confirm_stop(session: Session, member: Member, stop_id: UUID, body: StopStepCreate) -> StopRead:
    """What was suspected was found; every scan of the wood says so from now on."""
    stop = tree_actions.confirm_stop(session, member, stop_id, body)
    touch_bundles(session, queries.bound_by(session, stop_id))
    return stop


def clear_stop(session: Session, member: Member, stop_id: UUID, body: StopStepCreate) -> StopRead:
    """The stop is over: all that it bound is free, but for what another stop binds."""
    stop = tree_actions.clear_stop(session, member, stop_id, body)
    bundle_actions.lift_bundle_stop(session, member, stop_id)
    grafting_actions.lift_plant_stop(session, member, stop_id)
    return stop


def _case(body: StopOpen) -> StopCreate:
    return StopCreate(
        id=body.id,
        reason=body.reason,
        state=body.state,
        agent=body.agent,
        agent_code=body.agent_code,
        note=body.note,
    )


def _bind_reach(
    session: Session, member: Member, stop_id: UUID, why: Why, find: Callable[[], Reach], beside: list[UUID] | tuple[UUID, ...]
) -> None:  # fmt: skip
    """Bind all that is found. Where others write at the same time, look again until nothing was made meanwhile: what is
    bound is locked, so what is made of it later is refused.
    """
    reach = find()
    while True:
        bundle_actions.bind_bundle_stop(
            session, member, stop_id, [(one, why.value) for one in sorted(reach.bundles)]
        )
        if reach.all_plants:
            grafting_actions.bind_plant_stop(session, member, stop_id, sorted(reach.all_plants))
        trees = reach.all_trees - set(beside)
        if trees:
            tree_actions.place_stop(session, member, stop_id, sorted(trees))
        if queries.writes_alone(session):
            return
        again = find()
        if again == reach:
            return
        reach = again
