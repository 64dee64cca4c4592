"""Writing a made-up lineage into a database as rows."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.bundles.tables import Bundle, StickMove
from service.catalogue.tables import Taxon
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant, PlantMove
from service.lib.write import Writer, insert_rows
from service.members.tables import Area, Party
from service.storage.tables import Box, Place, Stay, Store
from service.trees.tables import Site, SourceTree
from tests.builders.lineages import START, Lineage, MoveRow

_EFFECT = {
    "collected": ("came_in", 1), "received": ("came_in", 1), "split_out": ("passed_on", 1), "split_in": ("came_in", 1),
    "handed_out": ("passed_on", 1), "handed_in": ("came_in", 1), "table_out": ("passed_on", 1), "table_back": ("passed_on", -1),
    "grafted": ("grafted", 1),
}  # fmt: skip
AREA, SITE, TAXON, CLERK = (UUID(int=n, version=4) for n in (11, 12, 13, 14))


def put_ground(writer: Writer) -> None:
    """What every lineage stands on: one area, one site, one kind, and somebody who writes things down."""
    known = "common practice, no source"
    apple = Taxon(
        id=TAXON,
        slug="apple",
        botanical_name="Malus domestica",
        genus="Malus",
        kind="Apple",
        source=known,
        mark=known,
    )
    clerk = Party(id=CLERK, kind="member", name="Ruth Alder", created_at=START)
    for rows in (
        [Area(id=AREA, name="East bank")],
        [Site(id=SITE, name="Lower field", area_id=AREA), apple, clerk],
    ):
        writer.write_now(_add, None, rows)


def _add(session: Session, rows: list[object]) -> None:
    session.add_all(rows)
    session.flush()


def put_lineage(writer: Writer, line: Lineage) -> None:
    """Write a lineage as rows, without asking any rule."""
    writer.write_now(_put, None, line)


def _put(session: Session, line: Lineage) -> None:
    who = {"by_party_id": CLERK, "for_party_id": CLERK}
    number = line.seed * 10_000
    insert_rows(session, Party, [
        {"id": one, "kind": kind, "name": f"Party {place} of {line.seed}", "created_at": START, "forgotten_at": START if gone else None}
        for place, (one, (kind, gone)) in enumerate(line.parties.items())
    ])  # fmt: skip
    insert_rows(session, SourceTree, [
        {"id": one, "number": number + place, "site_id": SITE, "taxon_id": TAXON, "owner_id": tree.owner, "created_at": tree.at, "by_party_id": CLERK}  # noqa: E501
        for place, (one, tree) in enumerate(line.trees.items())
    ])  # fmt: skip
    insert_rows(session, Collection, [
        {
            "id": one, "number": number + place, "kind": "cut" if cut.tree else "receipt", "tree_id": cut.tree, "taxon_id": TAXON,
            "from_party_id": cut.from_party, "cut_on": cut.at.date(), "done_at": cut.at, "recorded_at": cut.at, **who,
        }
        for place, (one, cut) in enumerate(line.cuts.items())
    ])  # fmt: skip
    insert_rows(session, Bundle, [
        {
            "id": one, "collection_id": b.collection, "parent_id": b.parent, "holder_id": b.holder, "is_flag": b.is_flag, "came_in": b.sticks,  # noqa: E501
            "passed_on": b.passed_on, "grafted": b.grafted, "sticks_at_start": b.sticks, "made_at": b.at,
        }
        for one, b in line.bundles.items()
    ])  # fmt: skip
    insert_rows(session, StickMove, [_move_row(line, move, who) for move in line.moves])
    _put_grafts(session, line, number, who)
    _put_stays(session, line)


def _move_row(line: Lineage, move: MoveRow, who: dict[str, UUID]) -> dict[str, object]:
    counters: dict[str, int] = dict.fromkeys(("came_in", "passed_on", "grafted", "discarded"), 0)
    if move.kind in _EFFECT:
        counter, sign = _EFFECT[move.kind]
        counters[counter] = sign * move.sticks
    return {
        "id": line.new(), "bundle_id": move.bundle, "kind": move.kind, "sticks": move.sticks, **counters, "party_id": move.party,
        "other_bundle_id": move.other, "form": move.form, "done_at": move.at, "recorded_at": move.at, **who,
    }  # fmt: skip


def _put_grafts(session: Session, line: Lineage, number: int, who: dict[str, UUID]) -> None:
    insert_rows(session, Graft, [
        {
            "id": one, "number": number + place, "grafts": 1, "stock_tree_id": graft.on_tree, "done_at": graft.at, "recorded_at": graft.at,
            **who, "for_party_id": graft.for_party,
        }
        for place, (one, graft) in enumerate(line.grafts.items())
    ])  # fmt: skip
    woods = [(one, wood, part) for one, graft in line.grafts.items() for wood, part in graft.woods]
    insert_rows(
        session,
        GraftWood,
        [{"graft_id": one, "bundle_id": wood, "part": part, "sticks": 1} for one, wood, part in woods],
    )
    insert_rows(session, Plant, [
        {"id": one, "number": number + place, "graft_id": p.graft, "holder_id": p.holder, "source_tree_id": p.tree, "made_at": p.at}
        for place, (one, p) in enumerate(line.plants.items())
    ])  # fmt: skip
    insert_rows(session, PlantMove, [
        {
            "id": line.new(), "plant_id": move.plant, "kind": "handed_over" if move.party else "returned", "from_party_id": move.from_party,
            "party_id": move.party, "done_at": move.at, "recorded_at": move.at, **who,
        }
        for move in line.plant_moves
    ])  # fmt: skip
    insert_rows(session, GraftOnPlant, [
        {"graft_id": one, "plant_id": graft.on_plant} for one, graft in line.grafts.items() if graft.on_plant
    ])  # fmt: skip


def _put_stays(session: Session, line: Lineage) -> None:
    places = {store: line.new() for store in line.stores}
    insert_rows(
        session,
        Store,
        [{"id": one, "name": f"Store {one}", "host_id": host} for one, host in line.stores.items()],
    )
    insert_rows(
        session, Place, [{"id": place, "store_id": store, "name": ""} for store, place in places.items()]
    )
    insert_rows(session, Box, [{"id": one, "name": f"Box {one}"} for one in line.boxes])
    insert_rows(session, Stay, [
        {
            "bundle_id": stay.bundle, "box_id": stay.box, "into_box_id": stay.into_box, "place_id": places[stay.store] if stay.store else None,  # noqa: E501
            "from_at": stay.from_at, "until_at": stay.until_at,
        }
        for stay in line.stays
    ])  # fmt: skip
