"""Random lineages in plain values, and how to write them into a database as rows.

A lineage holds what makes a recall hard: returns, guests, splits of splits, stick flags, interstems, plants that carry
several varieties, top-worked trees, plants that became source trees, open tables, stores in private houses, wood from
outside, and people who were forgotten.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from sqlmodel import Session

from service.bundles.tables import Bundle, StickMove
from service.catalogue.tables import Taxon
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftOnPlant, GraftWood, Plant
from service.lib.write import Writer, insert_rows
from service.members.tables import Area, Party
from service.storage.tables import Box, Place, Stay, Store
from service.trees.tables import Site, SourceTree

YEAR = timedelta(days=365)
START = datetime(2016, 1, 10, 12, tzinfo=UTC)


@dataclass
class TreeRow:
    owner: UUID
    at: datetime


@dataclass
class CutRow:
    tree: UUID | None
    at: datetime
    from_party: UUID | None = None


@dataclass
class BundleRow:
    collection: UUID
    parent: UUID | None
    holder: UUID | None
    at: datetime
    sticks: int
    passed_on: int = 0
    grafted: int = 0
    is_flag: bool = False

    @property
    def on_hand(self) -> int:
        return self.sticks - self.passed_on - self.grafted


@dataclass
class MoveRow:
    bundle: UUID
    kind: str
    sticks: int
    at: datetime
    party: UUID | None = None
    other: UUID | None = None
    form: str = ""


@dataclass
class GraftRow:
    woods: list[tuple[UUID, str]]
    for_party: UUID
    at: datetime
    on_tree: UUID | None = None
    on_plant: UUID | None = None


@dataclass
class PlantRow:
    graft: UUID
    holder: UUID | None
    at: datetime
    tree: UUID | None = None


@dataclass
class StayRow:
    bundle: UUID | None
    box: UUID | None
    into_box: UUID | None
    store: UUID | None
    from_at: datetime
    until_at: datetime | None


@dataclass
class Lineage:
    """A whole record of who came from whom."""

    seed: int
    parties: dict[UUID, tuple[str, bool]] = field(default_factory=dict)  # kind, forgotten
    trees: dict[UUID, TreeRow] = field(default_factory=dict)
    cuts: dict[UUID, CutRow] = field(default_factory=dict)
    bundles: dict[UUID, BundleRow] = field(default_factory=dict)
    moves: list[MoveRow] = field(default_factory=list)
    grafts: dict[UUID, GraftRow] = field(default_factory=dict)
    plants: dict[UUID, PlantRow] = field(default_factory=dict)
    stores: dict[UUID, UUID] = field(default_factory=dict)  # host
    boxes: list[UUID] = field(default_factory=list)
    stays: list[StayRow] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)

    def new(self) -> UUID:
        return UUID(int=self.chance.getrandbits(128), version=4)

    def anybody(self) -> UUID:
        return self.chance.choice(list(self.parties))


def make_lineage(seed: int, steps: int = 60) -> Lineage:
    """A lineage of so many random steps, each a little later than the one before; the same for the same seed."""
    line = Lineage(seed)
    for place in range(10):
        line.parties[line.new()] = ("guest" if place % 3 == 2 else "club" if place == 4 else "member", place in {1, 7, 8})
    for _ in range(3):
        line.trees[line.new()] = TreeRow(line.anybody(), START - YEAR)
    for _ in range(2):
        line.stores[line.new()] = line.anybody()
        line.boxes.append(line.new())
    at = START
    doing = [_cut, _cut, _receive, _split, _split, _hand_over, _hand_over, _return, _graft, _graft, _plant, _top_work, _again, _store, _table]
    for _ in range(steps):
        at += timedelta(days=line.chance.randrange(1, 90))
        line.chance.choice(doing)(line, at)
    return line


def _tie(line: Lineage, cut: UUID, at: datetime, kind: str) -> None:
    bundle, sticks = line.new(), line.chance.randrange(6, 20)
    line.bundles[bundle] = BundleRow(cut, None, None, at, sticks)
    line.moves.append(MoveRow(bundle, kind, sticks, at))


def _cut(line: Lineage, at: datetime) -> None:
    cut = line.new()
    line.cuts[cut] = CutRow(line.chance.choice(list(line.trees)), at)
    for _ in range(line.chance.randrange(1, 3)):
        _tie(line, cut, at, "collected")


def _receive(line: Lineage, at: datetime) -> None:
    cut = line.new()
    line.cuts[cut] = CutRow(None, at, line.anybody() if line.chance.random() < 0.7 else None)
    _tie(line, cut, at, "received")


def _with_sticks(line: Lineage) -> UUID | None:
    found = [one for one, bundle in line.bundles.items() if bundle.on_hand > 1 and not bundle.is_flag]
    return line.chance.choice(found) if found else None


def _pass(line: Lineage, at: datetime, kinds: tuple[str, str], party: UUID | None, form: str) -> None:
    parent = _with_sticks(line)
    if parent is None:
        return
    row, child = line.bundles[parent], line.new()
    sticks = line.chance.randrange(1, row.on_hand + 1)
    row.passed_on += sticks
    holder = party if form else row.holder
    line.bundles[child] = BundleRow(row.collection, parent, holder, at, sticks, is_flag=form == "flag")
    line.moves.append(MoveRow(parent, kinds[0], sticks, at, party, child, form))
    line.moves.append(MoveRow(child, kinds[1], sticks, at, party, parent, form))


def _split(line: Lineage, at: datetime) -> None:
    _pass(line, at, ("split_out", "split_in"), None, "")


def _hand_over(line: Lineage, at: datetime) -> None:
    _pass(line, at, ("handed_out", "handed_in"), line.anybody(), line.chance.choice(["bundle", "bundle", "flag"]))


def _return(line: Lineage, at: datetime) -> None:
    held = [one for one, bundle in line.bundles.items() if bundle.holder is not None]
    if held:
        bundle = line.chance.choice(held)
        line.moves.append(MoveRow(bundle, "returned", line.bundles[bundle].on_hand, at, line.bundles[bundle].holder))
        line.bundles[bundle].holder = None


def _wood(line: Lineage, at: datetime, count: int) -> list[UUID]:
    found = [one for one, bundle in line.bundles.items() if bundle.on_hand > 0]
    chosen = line.chance.sample(found, min(count, len(found)))
    for one in chosen:
        line.bundles[one].grafted += 1
        line.moves.append(MoveRow(one, "grafted", 1, at))
    return chosen


def _graft(line: Lineage, at: datetime) -> None:
    """On a rootstock, now and then with an interstem between."""
    woods = _wood(line, at, 2 if line.chance.random() < 0.3 else 1)
    if not woods:
        return
    graft = line.new()
    parts = list(zip(woods, ("scion", "interstem"), strict=False))
    line.grafts[graft] = GraftRow(parts, line.anybody(), at)
    for _ in range(line.chance.randrange(1, 3)):
        line.plants[line.new()] = PlantRow(graft, line.anybody() if line.chance.random() < 0.8 else None, at)


def _plant(line: Lineage, at: datetime) -> None:
    """A plant becomes a source tree."""
    found = [one for one, plant in line.plants.items() if plant.tree is None]
    if found:
        plant, tree = line.chance.choice(found), line.new()
        line.trees[tree] = TreeRow(line.anybody(), at)
        line.plants[plant].tree = tree


def _top_work(line: Lineage, at: datetime) -> None:
    """Onto a standing tree; now and then the branch gets a tag of its own."""
    woods = _wood(line, at, 1)
    if not woods:
        return
    graft = line.new()
    line.grafts[graft] = GraftRow([(woods[0], "scion")], line.anybody(), at, on_tree=line.chance.choice(list(line.trees)))
    if line.chance.random() < 0.4:
        line.plants[line.new()] = PlantRow(graft, line.anybody(), at)


def _again(line: Lineage, at: datetime) -> None:
    """Onto a plant that was grafted before."""
    woods = _wood(line, at, 1) if line.plants else []
    if woods:
        line.grafts[line.new()] = GraftRow([(woods[0], "scion")], line.anybody(), at, on_plant=line.chance.choice(list(line.plants)))


def _store(line: Lineage, at: datetime) -> None:
    """Straight into a store, or into a box that stands, or is later put, in one."""
    if not line.bundles:
        return
    bundle = line.chance.choice(list(line.bundles))
    store, box = line.chance.choice(list(line.stores)), line.chance.choice(line.boxes)
    for stay in line.stays:
        if stay.bundle == bundle and stay.until_at is None:
            stay.until_at = at
    if line.chance.random() < 0.4:
        line.stays.append(StayRow(bundle, None, None, store, at, None))
        return
    line.stays.append(StayRow(bundle, None, box, None, at, None))
    if line.chance.random() < 0.6:
        for stay in line.stays:
            if stay.box == box and stay.until_at is None:
                stay.until_at = at + timedelta(hours=1)
        line.stays.append(StayRow(None, box, None, store, at + timedelta(hours=1), None))


def _table(line: Lineage, at: datetime) -> None:
    bundle = _with_sticks(line)
    if bundle is None:
        return
    row = line.bundles[bundle]
    out = line.chance.randrange(1, row.on_hand + 1)
    back = line.chance.randrange(0, out + 1)
    row.passed_on += out - back
    line.moves.append(MoveRow(bundle, "table_out", out, at, form="table"))
    if back:
        line.moves.append(MoveRow(bundle, "table_back", back, at + timedelta(hours=3), form="table"))


# -- writing it down ---------------------------------------------------------------------------------------------------

_EFFECT = {
    "collected": ("came_in", 1), "received": ("came_in", 1), "split_out": ("passed_on", 1), "split_in": ("came_in", 1),
    "handed_out": ("passed_on", 1), "handed_in": ("came_in", 1), "table_out": ("passed_on", 1), "table_back": ("passed_on", -1),
    "grafted": ("grafted", 1),
}  # fmt: skip
AREA, SITE, TAXON, CLERK = (UUID(int=n, version=4) for n in (11, 12, 13, 14))


def put_ground(writer: Writer) -> None:
    """What every lineage stands on: one area, one site, one kind, and somebody who writes things down."""
    known = "common practice, no source"
    apple = Taxon(id=TAXON, slug="apple", botanical_name="Malus domestica", genus="Malus", kind="Apple", source=known, mark=known)
    clerk = Party(id=CLERK, kind="member", name="Ruth Alder", created_at=START)
    for rows in ([Area(id=AREA, name="East bank")], [Site(id=SITE, name="Lower field", area_id=AREA), apple, clerk]):
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
        {"id": one, "number": number + place, "site_id": SITE, "taxon_id": TAXON, "owner_id": tree.owner, "created_at": tree.at, "by_party_id": CLERK}
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
            "id": one, "collection_id": b.collection, "parent_id": b.parent, "holder_id": b.holder, "is_flag": b.is_flag, "came_in": b.sticks,
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
    insert_rows(session, GraftWood, [{"graft_id": one, "bundle_id": wood, "part": part, "sticks": 1} for one, wood, part in woods])
    insert_rows(session, Plant, [
        {"id": one, "number": number + place, "graft_id": p.graft, "holder_id": p.holder, "source_tree_id": p.tree, "made_at": p.at}
        for place, (one, p) in enumerate(line.plants.items())
    ])  # fmt: skip
    insert_rows(session, GraftOnPlant, [
        {"graft_id": one, "plant_id": graft.on_plant} for one, graft in line.grafts.items() if graft.on_plant
    ])  # fmt: skip


def _put_stays(session: Session, line: Lineage) -> None:
    places = {store: line.new() for store in line.stores}
    insert_rows(session, Store, [{"id": one, "name": f"Store {one}", "host_id": host} for one, host in line.stores.items()])
    insert_rows(session, Place, [{"id": place, "store_id": store, "name": ""} for store, place in places.items()])
    insert_rows(session, Box, [{"id": one, "name": f"Box {one}"} for one in line.boxes])
    insert_rows(session, Stay, [
        {
            "bundle_id": stay.bundle, "box_id": stay.box, "into_box_id": stay.into_box, "place_id": places[stay.store] if stay.store else None,
            "from_at": stay.from_at, "until_at": stay.until_at,
        }
        for stay in line.stays
    ])  # fmt: skip


# -- walking it by hand ------------------------------------------------------------------------------------------------


@dataclass
class Walked:
    """What came of some wood, found by going over everything again and again until nothing is added."""

    cuts: set[UUID] = field(default_factory=set)
    bundles: set[UUID] = field(default_factory=set)
    grafts: set[UUID] = field(default_factory=set)
    plants: set[UUID] = field(default_factory=set)
    trees: set[UUID] = field(default_factory=set)
    carrying_plants: set[UUID] = field(default_factory=set)
    carrying_trees: set[UUID] = field(default_factory=set)

    def size(self) -> int:
        return sum(len(found) for found in vars(self).values())


def walk_trees(line: Lineage, origins: set[UUID], since: date | None = None) -> Walked:
    """All that came of the wood of these trees cut on or after a day, and of the plants that were made on them."""
    walked = Walked(cuts={one for one, cut in line.cuts.items() if cut.tree in origins and (since is None or cut.at.date() >= since)})
    walked.plants |= {one for one, plant in line.plants.items() if line.grafts[plant.graft].on_tree in origins}
    return walk_on(line, walked)


def walk_on(line: Lineage, walked: Walked) -> Walked:
    before = -1
    while walked.size() != before:
        before = walked.size()
        walked.cuts |= {one for one, cut in line.cuts.items() if cut.tree in walked.trees or _cut_after(line, cut, walked)}
        walked.bundles |= {
            one for one, bundle in line.bundles.items() if bundle.collection in walked.cuts or bundle.parent in walked.bundles
        }
        walked.grafts |= {one for one, graft in line.grafts.items() if any(wood in walked.bundles for wood, _ in graft.woods)}
        for one in walked.grafts:
            graft = line.grafts[one]
            walked.carrying_trees |= {graft.on_tree} - {None}
            walked.carrying_plants |= {graft.on_plant} - {None}
        walked.carrying_trees |= {line.plants[one].tree for one in walked.carrying_plants} - {None}
        on_trees, on_plants = walked.trees | walked.carrying_trees, walked.plants | walked.carrying_plants
        walked.plants |= {
            one
            for one, plant in line.plants.items()
            if plant.graft in walked.grafts
            or line.grafts[plant.graft].on_tree in on_trees
            or line.grafts[plant.graft].on_plant in on_plants
        }
        walked.trees |= {line.plants[one].tree for one in walked.plants} - {None}
    return walked


def _cut_after(line: Lineage, cut: CutRow, walked: Walked) -> bool:
    """Whether it was cut from a tree after wood of the walk had been grafted onto that tree or onto the plant it was."""
    for one in walked.grafts:
        graft = line.grafts[one]
        onto = {graft.on_tree, line.plants[graft.on_plant].tree if graft.on_plant else None} - {None}
        if cut.tree in onto and cut.at >= graft.at:
            return True
    return False


def people_to_tell(line: Lineage, walked: Walked, origins: set[UUID]) -> set[UUID]:
    """Everybody who has or had the wood in hand, grafted it, gave it, stores it, or lets a plant or tree of it grow."""
    told = {line.trees[one].owner for one in origins | walked.trees | walked.carrying_trees}
    told |= {line.plants[one].holder for one in walked.plants | walked.carrying_plants}
    told |= {line.grafts[one].for_party for one in walked.grafts}
    told |= {line.cuts[line.bundles[one].collection].from_party for one in walked.bundles}
    told |= {line.bundles[one].holder for one in walked.bundles}
    told |= {move.party for move in line.moves if move.bundle in walked.bundles}
    for stay in line.stays:
        if stay.bundle in walked.bundles:
            told |= {line.stores[stay.store]} if stay.store else {line.stores[s] for s in _stood_in(line, stay)}
    return {one for one in told if one is not None}


def _stood_in(line: Lineage, stay: StayRow) -> set[UUID]:
    far = datetime(9999, 1, 1, tzinfo=UTC)
    return {
        other.store
        for other in line.stays
        if other.box == stay.into_box and other.store and other.from_at < (stay.until_at or far) and (other.until_at or far) > stay.from_at
    }


def sticks_at_tables(line: Lineage, walked: Walked) -> int:
    sign = {"table_out": 1, "table_back": -1}
    return sum(sign.get(move.kind, 0) * move.sticks for move in line.moves if move.bundle in walked.bundles)
