"""Builders of stores, boxes and bundles that lie in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session, func, select

from service.bundles.tables import Bundle, BundleStop
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.lib.database import Database
from service.lib.write import Writer, insert_rows
from service.members.rules import May, Role, may_of
from service.members.tables import Area, Club, Party
from service.storage import actions, queries, schemas
from service.trees.tables import Site, SourceTree, Stop

TODAY = datetime(2026, 2, 14, 10, 0, tzinfo=UTC)
LONG_AGO = datetime(2025, 11, 1, 9, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Person:
    """Somebody who asks, standing in the database."""

    account_id: UUID = field(default_factory=uuid4)
    party_id: UUID = field(default_factory=uuid4)
    may: frozenset[May] = may_of([Role.HOST])
    acting_for: UUID | None = None

    @property
    def acting_for_id(self) -> UUID:
        return self.acting_for or self.party_id


@dataclass(frozen=True)
class Ground:
    """A club with an area, a site, a kind, a variety and a tree: all that a bundle needs to exist."""

    area_id: UUID
    site_id: UUID
    taxon_id: UUID
    cultivar_id: UUID
    tree_id: UUID
    collection_id: UUID
    host: Person
    health_steward: Person


def run(writer: Writer, do: Any, *args: Any) -> Any:
    """Do something in a session that is saved."""
    return writer.write_now(do, None, *args)


def make_person(
    writer: Writer, *roles: Role, name: str = "Edda Holm", acting_for: UUID | None = None
) -> Person:
    person = Person(may=may_of(roles or [Role.HOST]), acting_for=acting_for)
    run(writer, _add, [Party(id=person.party_id, kind="member", name=name, created_at=LONG_AGO)])
    return person


def make_ground(writer: Writer, kind: tuple[UUID, UUID] | None = None, **changes: Any) -> Ground:
    """One tree and one cutting of it; a host and a health steward. `kind`: a kind and variety that stand already."""
    host, steward = Person(), Person(may=may_of([Role.HEALTH_STEWARD]))
    ids = {
        name: uuid4()
        for name in ("area_id", "site_id", "taxon_id", "cultivar_id", "tree_id", "collection_id")
    }
    if kind is not None:
        ids["taxon_id"], ids["cultivar_id"] = kind
    rows = [
        [
            Club(
                id=1, name="Hillside Graft Club", short_name="Hillside", zone="Europe/Berlin", next_tree_number=2,
                next_collection_number=2,
            ),
            Area(id=ids["area_id"], name="North valley"),
        ],
        [Party(id=p.party_id, kind="member", name=name, created_at=LONG_AGO) for p, name in ((host, "Anna Quist"), (steward, "Jory Penn"))],
        [Site(id=ids["site_id"], name="Old orchard", area_id=ids["area_id"]), *([] if kind else [_taxon(ids["taxon_id"])])],
        [] if kind else [Cultivar(id=ids["cultivar_id"], taxon_id=ids["taxon_id"], epithet="Kordia", created_at=LONG_AGO)],
        [
            SourceTree(
                id=ids["tree_id"], number=1, site_id=ids["site_id"], taxon_id=ids["taxon_id"], cultivar_id=ids["cultivar_id"],
                owner_id=host.party_id, may_cut="yes", created_at=LONG_AGO, by_party_id=host.party_id, **changes,
            )
        ],
        [_collection(ids["collection_id"], 1, ids, host)],
    ]  # fmt: skip
    for group in rows:
        run(writer, _add, group)
    return Ground(**ids, host=host, health_steward=steward)


def _taxon(taxon_id: UUID) -> Taxon:
    return Taxon(
        id=taxon_id, slug="apple", botanical_name="Malus domestica", genus="Malus", kind="Apple", stage_scale="pome",
        source="common practice, no source", mark="common practice, no source",
    )  # fmt: skip


def _collection(collection_id: UUID, number: int, ids: dict[str, UUID], host: Person) -> Collection:
    return Collection(
        id=collection_id, number=number, kind="cut", tree_id=ids["tree_id"], taxon_id=ids["taxon_id"], cultivar_id=ids["cultivar_id"],
        area_id=ids["area_id"], cut_on=date(2026, 1, 10), done_at=datetime(2026, 1, 10, 12, tzinfo=UTC), recorded_at=LONG_AGO,
        by_party_id=host.party_id, for_party_id=host.party_id,
    )  # fmt: skip


def make_bundles(writer: Writer, ground: Ground, count: int = 1, **given: Any) -> list[UUID]:
    """Bundles as rows, without their ledger: for what asks only that they exist."""
    rows = [
        {
            **Bundle(id=uuid4(), collection_id=ground.collection_id, came_in=10, sticks_at_start=10, made_at=LONG_AGO).model_dump(),
            **given,
        }
        for _ in range(count)
    ]  # fmt: skip
    run(writer, insert_rows, Bundle, rows)
    return [row["id"] for row in rows]


def make_store(
    writer: Writer, ground: Ground, name: str = "Garage fridge", **given: Any
) -> schemas.StoreRead:
    body = schemas.StoreCreate(**{"name": name, "host_id": ground.host.party_id, "with_tag": False, **given})
    return writer.write_now(actions.add_store, ground.host, body)


def make_box(writer: Writer, ground: Ground, name: str = "Blue crate", **given: Any) -> schemas.BoxRead:
    return writer.write_now(
        actions.add_box, ground.host, schemas.BoxCreate(**{"name": name, "with_tag": False, **given})
    )


def put(writer: Writer, member: Person, *entries: dict[str, Any]) -> list[schemas.PutAwayRead]:
    """Put things away: `put(writer, host, {"bundle_id": …, "into_box_id": …})`."""
    return writer.write_now(actions.put_away, member, [schemas.PutAwayCreate(**entry) for entry in entries])


def stop_bundles(
    writer: Writer, ground: Ground, bundle_ids: Sequence[UUID], placed_at: datetime = LONG_AGO, note: str = ""
) -> UUID:
    """Bind bundles by a stop, as rows."""
    stop = Stop(
        id=uuid4(),
        reason="health",
        state="suspected",
        opened_at=placed_at,
        by_party_id=ground.health_steward.party_id,
        note=note,
    )
    run(writer, _add, [stop])
    run(writer, _bind, stop.id, list(bundle_ids), placed_at)
    return stop.id


def _bind(session: Session, stop_id: UUID, bundle_ids: list[UUID], placed_at: datetime) -> None:
    insert_rows(
        session,
        BundleStop,
        [
            {"stop_id": stop_id, "bundle_id": b, "why": "same_tree", "placed_at": placed_at}
            for b in bundle_ids
        ],
    )
    for bundle_id in bundle_ids:
        bundle = session.get(Bundle, bundle_id)
        assert bundle is not None
        bundle.open_stops += 1
        bundle.version += 1


def ago(**step: float) -> datetime:
    """So long before the tests' own today: `ago(days=3)`."""
    return TODAY - timedelta(**step)


def lies(database: Database, bundle_id: UUID, at: datetime | None = None) -> schemas.Whereabouts | None:
    """Where a bundle lies, or lay."""
    with database.reading() as session:
        return queries.whereabouts(session, [bundle_id], at).get(bundle_id)


def count(database: Database, table: Any) -> int:
    with database.reading() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def _add(session: Session, rows: Sequence[Any]) -> None:
    session.add_all(rows)
    session.flush()
