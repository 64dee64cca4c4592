"""Going through a shelf or a box, tag by tag."""

from __future__ import annotations

from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.codes import group_code
from service.lib.database import insert_of
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.storage import queries
from service.storage.rules import Found, NotForStoring, as_box, check_count_open
from service.storage.schemas import ShelfCountCreate, ShelfCountRead, ShelfScanCreate, ShelfScanned
from service.storage.tables import ShelfCount, ShelfFinding
from service.tags.rules.words import TagKind


def begin_count(session: Session, member: Member, body: ShelfCountCreate) -> ShelfCountRead:
    """Begin to go through a place or a box. Raises `NoSuchPlace`, `NoSuchBox`."""
    queries.expected_in(session, body.place_id, body.box_id)
    row = {
        **body.model_dump(), "begun_at": recorded_at(session), "ended_at": None, "by_party_id": member.party_id,
        "for_party_id": member.acting_for_id,
    }  # fmt: skip
    insert_rows(session, ShelfCount, [row])
    return queries.get_count(session, body.id)


def scan_on_shelf(session: Session, _member: Member, count_id: UUID, body: ShelfScanCreate) -> ShelfScanned:
    """A tag lies there; the same one twice is counted once. It moves nothing, so stopped wood is counted too.

    Three statements. Raises `NoSuchCount`, `CountEnded`, `NotForStoring`.
    """
    kind, bundle_id = queries.resolve_codes(session, {body.code: "code"})[body.code]
    if kind is not TagKind.BUNDLE:
        raise NotForStoring(f"This is the tag of a {kind}; bundles are counted.", field="code")
    facts = queries.scan_facts(session, count_id, bundle_id)
    check_count_open(facts.ended_at is not None)
    finding = Found.PRESENT if facts.is_there else Found.NOT_EXPECTED
    row = {
        "count_id": count_id,
        "bundle_id": bundle_id,
        "finding": finding.value,
        "found_at": recorded_at(session),
    }
    statement = insert_of(session, ShelfFinding).values(row).on_conflict_do_nothing()
    added = session.connection().execute(statement.returning(col(ShelfFinding.bundle_id))).first()
    lies = ", ".join(
        part for part in (facts.store, facts.place, as_box(facts.box) if facts.box else "") if part
    )
    return ShelfScanned(
        bundle_id=bundle_id, code=group_code(body.code), finding=finding, again=added is None, lies=lies
    )  # fmt: skip


def end_count(session: Session, _member: Member, count_id: UUID) -> ShelfCountRead:
    """Write down what was found, and what was missing. Raises `NoSuchCount`, `CountEnded`."""
    found = queries.get_count(session, count_id)
    check_count_open(found.ended_at is not None)
    at = recorded_at(session)
    for kind, bundles in ((Found.PRESENT, found.present), (Found.NOT_EXPECTED, found.not_expected)):
        session.execute(
            update(ShelfFinding)
            .where(
                col(ShelfFinding.count_id) == count_id,
                col(ShelfFinding.bundle_id).in_([each.bundle_id for each in bundles]),
            )
            .values(finding=kind.value)
            .execution_options(synchronize_session=False)
        )
    rows = [
        {"count_id": count_id, "bundle_id": each.bundle_id, "finding": Found.MISSING.value, "found_at": at}
        for each in found.missing
    ]
    insert_rows(session, ShelfFinding, rows)
    session.execute(
        update(ShelfCount)
        .where(col(ShelfCount.id) == count_id)
        .values(ended_at=at)
        .execution_options(synchronize_session=False)
    )
    return queries.get_count(session, count_id)
