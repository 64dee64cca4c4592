"""Builders of sites, trees, looks and stops."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import func, select
from sqlmodel import Session, SQLModel, col

from service.catalogue.tables import Cultivar, CultivarName, HealthAgent, Rootstock, Taxon
from service.lib.database import Database
from service.lib.write import Writer
from service.members.rules import Member
from service.members.tables import Area
from service.trees import actions, queries, schemas
from service.trees.rules import TreeFacts
from service.trees.tables import SourceTree, TreeStop

LONG_AGO = datetime(2025, 1, 1, tzinfo=UTC)
_SAID = {"source": "common practice, no source", "mark": "common practice, no source"}


@dataclass
class Orchard:
    """Two areas, a site in the first, three kinds with their stage lists, varieties, a stock and an agent."""

    area_id: UUID = field(default_factory=uuid4)
    other_area_id: UUID = field(default_factory=uuid4)
    site_id: UUID = field(default_factory=uuid4)
    apple_id: UUID = field(default_factory=uuid4)
    pear_id: UUID = field(default_factory=uuid4)
    plum_id: UUID = field(default_factory=uuid4)
    fig_id: UUID = field(default_factory=uuid4)
    gala_id: UUID = field(default_factory=uuid4)
    bramley_id: UUID = field(default_factory=uuid4)
    protected_id: UUID = field(default_factory=uuid4)
    victoria_id: UUID = field(default_factory=uuid4)
    m9_id: UUID = field(default_factory=uuid4)


def make_orchard(writer: Writer, member: Member) -> Orchard:
    """Written as rows, without the reference files, so that a test does not wait for them."""
    orchard = Orchard()
    for rows in _rows_of(orchard):
        writer.write_now(_add, None, rows)
    make_site(
        writer, member, orchard.area_id, id=orchard.site_id, name="Long Meadow", region="the lower valley"
    )
    return orchard


def _rows_of(o: Orchard) -> list[list[SQLModel]]:
    def taxon(taxon_id: UUID, slug: str, name: str, kind: str, scale: str) -> Taxon:
        genus = name.split(maxsplit=1)[0]
        return Taxon(
            id=taxon_id, slug=slug, botanical_name=name, genus=genus, kind=kind, stage_scale=scale, **_SAID
        )

    def cultivar(cultivar_id: UUID, taxon_id: UUID, epithet: str, **more: Any) -> Cultivar:
        return Cultivar(id=cultivar_id, taxon_id=taxon_id, epithet=epithet, created_at=LONG_AGO, **more)

    looked_up = {"protection": "free", "protection_checked_on": date(2026, 1, 2)}
    cultivars = [
        cultivar(o.gala_id, o.apple_id, "Gala", **looked_up), cultivar(o.bramley_id, o.apple_id, "Bramley", **looked_up),
        cultivar(o.protected_id, o.apple_id, "Rask's Late", protection="protected", protected_until=date(2031, 3, 1)),
        cultivar(o.victoria_id, o.plum_id, "Victoria", **looked_up),
    ]  # fmt: skip
    return [
        [Area(id=o.area_id, name="North Vale", authority="Plant health office, North Vale"), Area(id=o.other_area_id, name="South Shore")],
        [
            taxon(o.apple_id, "apple", "Malus domestica", "Apple", "pome"), taxon(o.pear_id, "pear", "Pyrus communis", "Pear", "pome"),
            taxon(o.plum_id, "plum", "Prunus domestica", "Plum", "stone"), taxon(o.fig_id, "fig", "Ficus carica", "Fig", "plain"),
        ],
        cultivars,
        [CultivarName(cultivar_id=one.id, name=one.epithet, kind="epithet", folded=one.epithet.lower()) for one in cultivars],
        [Rootstock(id=o.m9_id, taxon_id=o.apple_id, name="M.9", **_SAID)],
        [
            # EPPO Global Database, ERWIAM; the genera of its hosts as a fruit club meets them.
            HealthAgent(
                slug="fire-blight", name="Erwinia amylovora (fire blight)", eppo_code="ERWIAM", eppo_mark="verified",
                host_genera="Malus; Pyrus; Cydonia; Mespilus; Crataegus", **_SAID,
            )
        ],
    ]  # fmt: skip


def make_site(writer: Writer, member: Member, area_id: UUID, **told: Any) -> schemas.SiteRead:
    body = {"name": f"Site {uuid4().hex[:6]}", "area_id": area_id, **told}
    return writer.write_now(actions.add_site, member, schemas.SiteCreate(**body))


def make_tree(writer: Writer, member: Member, orchard: Orchard, **told: Any) -> schemas.TreeRead:
    """A named apple that may be cut; `told` are fields of the body."""
    body: dict[str, Any] = {"site_id": orchard.site_id, "may_cut": "yes", **told}
    if "taxon_id" not in told and "cultivar_id" not in told:
        body["cultivar_id"] = orchard.gala_id
    return writer.write_now(actions.add_trees, member, [schemas.TreeCreate(**body)])[0]


def look(
    writer: Writer, member: Member, tree_id: UUID, kind: str = "leaf", result: str = "healthy", **told: Any
) -> schemas.TreeCheckRead:
    body = schemas.TreeCheckCreate(tree_id=tree_id, kind=kind, result=result, **told)
    return writer.write_now(actions.record_tree_checks, member, [body])[0]


def stop(
    writer: Writer, member: Member, *tree_ids: UUID, reason: str = "health", **told: Any
) -> schemas.StopRead:
    """The trees' part of a stop."""
    return writer.write_now(
        actions.open_stop, member, schemas.StopCreate(reason=reason, **told), list(tree_ids)
    )


def change(writer: Writer, member: Member, tree: schemas.TreeRead, **told: Any) -> schemas.TreeRead:
    version = read_tree(writer.database, tree.id).version
    return writer.write_now(actions.change_tree, member, tree.id, schemas.TreeUpdate(**told), version)


def read_tree(database: Database, tree_id: UUID) -> schemas.TreeRead:
    with database.reading() as session:
        return queries.get_tree(session, tree_id)


def facts_of(database: Database, tree_id: UUID) -> TreeFacts:
    with database.reading() as session:
        return queries.get_facts(session, tree_id)


def counts_agree(database: Database) -> bool:
    """Whether every tree's count of open stops equals its rows."""
    with database.reading() as session:
        rows = (
            select(func.count())
            .where(col(TreeStop.tree_id) == col(SourceTree.id), col(TreeStop.lifted_at).is_(None))
            .correlate(SourceTree)
            .scalar_subquery()
        )
        return not session.execute(select(SourceTree.id).where(col(SourceTree.open_stops) != rows)).all()


def _add(session: Session, rows: list[SQLModel]) -> None:
    session.add_all(rows)
    session.flush()
