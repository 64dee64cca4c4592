"""Keeping what was learned of how wood ages: always a new version, none is ever changed."""

from __future__ import annotations

from sqlmodel import Session

from service.lib.database import insert_of
from service.lib.jobs import TryLater
from service.lib.write import insert_rows, recorded_at
from service.storage.queries.learned import newest_version
from service.storage.schemas.keeping import AS_KEPT
from service.storage.schemas.learned import AgeingRead
from service.storage.tables import AgeingLearned, AgeingVersion, NumbersUsed


def record_learned(session: Session, found: AgeingRead) -> None:
    """At most four statements. Whoever learned from less than stands by now begins anew: raises `TryLater`."""
    if newest_version(session) != found.version - 1:
        raise TryLater("It was learned by another at the same time.")
    at = recorded_at(session)
    insert_rows(
        session,
        AgeingVersion,
        [{**found.model_dump(exclude={"groups"}, context=AS_KEPT, round_trip=True), "made_at": at}],
    )
    rows = [
        {
            **each.model_dump(exclude={"methods"}), "version": found.version,
            "by_method": {one.method: one.model_dump(exclude={"method"}) for one in each.methods},
        }
        for each in found.groups
    ]  # fmt: skip
    insert_rows(session, AgeingLearned, rows)
    record_numbers(session)


def record_numbers(session: Session) -> None:
    """Keep the numbers of the models as they stand, so that what was reckoned with them can be reckoned again. One statement."""
    from service.science.parameters import numbers_digest, numbers_now

    row = {"digest": numbers_digest(), "numbers": numbers_now(), "first_used_at": recorded_at(session)}
    session.execute(
        insert_of(session, NumbersUsed).values(row).on_conflict_do_nothing(index_elements=["digest"])
    )
