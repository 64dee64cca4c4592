"""Taking back a graft that was recorded by mistake."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.bundles import actions as bundle_actions
from service.grafting import queries, rules
from service.grafting.actions.learning import ask_to_learn
from service.grafting.actions.plants import release_plants
from service.grafting.actions.takes import renew_plants
from service.grafting.schemas import GraftRead, GraftUndo
from service.grafting.tables import GraftTakenBack, GraftWood, Plant
from service.lib.write import insert_rows, recorded_at, touch_bundles
from service.members.rules import May, Member


def take_back_graft(
    session: Session, member: Member, graft_id: UUID, body: GraftUndo, *, but_looks_of: datetime | None = None
) -> GraftRead:
    """The sticks go back to their bundles by movements of their own; the plants become void, and their tags still tell.

    Refused once anybody saw the graft, or a plant of it went on: then it was made, and must be found again. Looks that were
    written down at that instant, together with the graft itself, are nobody's own seeing and forbid nothing.
    """
    graft = queries.graft_to_change(session, graft_id)
    rules.check_may_see(rules.sees_only(member), graft.for_party_id)
    rules.check_can_take_back(
        queries.graft_to_take_back(session, graft, but_looks_of=but_looks_of),
        may_release=May.RELEASE in member.may,
    )
    used = queries.sticks_of_graft(session, graft_id)
    back = [(bundle_id, sticks) for bundle_id, sticks in used.items() if sticks]
    if back:
        bundle_actions.undo_graft_use(session, member, back, body.reason)
    _void(session, member, graft_id, body.reason)
    graft.version += 1
    graft.taken_back_at = recorded_at(session)
    session.flush()
    renew_plants(session, queries.plants_carrying(session, graft_id))
    touch_bundles(session, used)
    ask_to_learn(session)
    return queries.get_graft(session, graft_id)


def _void(session: Session, member: Member, graft_id: UUID, reason: str) -> None:
    at = recorded_at(session)
    taken_back = {
        "graft_id": graft_id, "reason": reason, "at": at, "by_party_id": member.party_id, "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, GraftTakenBack, [taken_back])
    session.execute(
        update(GraftWood)
        .where(col(GraftWood.graft_id) == graft_id)
        .values(taken_back=True)
        .execution_options(synchronize_session=False)
    )
    plants = session.execute(
        update(Plant)
        .where(col(Plant.graft_id) == graft_id)
        .values(state=rules.PlantState.VOID.value, version=Plant.version + 1)
        .returning(col(Plant.id))
        .execution_options(synchronize_session=False)
    ).scalars()
    release_plants(session, member, sorted(plants), "Its graft was recorded by mistake.")
