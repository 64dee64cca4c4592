"""Running numbers of the club's trees, plants, grafts and collections."""

from __future__ import annotations

from typing import Any

from sqlalchemy import update
from sqlmodel import Session, col

from service.members.actions.areas import ensure_club
from service.members.tables import Club

_COUNTERS: dict[str, Any] = {
    "tree": Club.next_tree_number,
    "plant": Club.next_plant_number,
    "graft": Club.next_graft_number,
    "collection": Club.next_collection_number,
}


def take_numbers(session: Session, kind: str, count: int = 1) -> range:
    """The next numbers of a kind, each given once whoever asks at the same time; one statement."""
    counter: Any = _COUNTERS[kind]
    take = (
        update(Club)
        .where(col(Club.id) == 1)
        .values({counter.key: counter + count})
        .returning(counter)
        .execution_options(synchronize_session=False)
    )
    following = session.execute(take).scalar_one_or_none()
    if following is None:
        ensure_club(session)
        following = session.execute(take).scalar_one()
    return range(following - count, following)
