"""Random lineages in plain values, and how to write them into a database as rows.

A lineage holds what makes a recall hard: returns, guests, splits of splits, stick flags, interstems, plants that carry
several varieties, top-worked trees, plants that became source trees, open tables, stores in private houses, wood from
outside, and people who were forgotten.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from uuid import UUID

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
class PlantMoveRow:
    plant: UUID
    from_party: UUID | None
    party: UUID | None
    at: datetime


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
    plant_moves: list[PlantMoveRow] = field(default_factory=list)
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
        line.parties[line.new()] = (
            "guest" if place % 3 == 2 else "club" if place == 4 else "member",
            place in {1, 7, 8},
        )
    for _ in range(3):
        line.trees[line.new()] = TreeRow(line.anybody(), START - YEAR)
    for _ in range(2):
        line.stores[line.new()] = line.anybody()
        line.boxes.append(line.new())
    at = START
    doing = [
        _cut,
        _cut,
        _receive,
        _split,
        _split,
        _hand_over,
        _hand_over,
        _return,
        _graft,
        _graft,
        _plant,
        _plant,
        _pass_plant,
        _top_work,
        _again,
        _store,
        _table,
    ]
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
    _pass(
        line,
        at,
        ("handed_out", "handed_in"),
        line.anybody(),
        line.chance.choice(["bundle", "bundle", "flag"]),
    )


def _return(line: Lineage, at: datetime) -> None:
    held = [one for one, bundle in line.bundles.items() if bundle.holder is not None]
    if held:
        bundle = line.chance.choice(held)
        line.moves.append(
            MoveRow(bundle, "returned", line.bundles[bundle].on_hand, at, line.bundles[bundle].holder)
        )
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


def _pass_plant(line: Lineage, at: datetime) -> None:
    """A plant goes to somebody else, or back to the club."""
    found = [one for one, plant in line.plants.items() if plant.tree is None]
    if found:
        plant = line.chance.choice(found)
        to = line.anybody() if line.chance.random() < 0.8 else None
        line.plant_moves.append(PlantMoveRow(plant, line.plants[plant].holder, to, at))
        line.plants[plant].holder = to


def _top_work(line: Lineage, at: datetime) -> None:
    """Onto a standing tree; now and then the branch gets a tag of its own."""
    woods = _wood(line, at, 1)
    if not woods:
        return
    graft = line.new()
    line.grafts[graft] = GraftRow(
        [(woods[0], "scion")], line.anybody(), at, on_tree=line.chance.choice(list(line.trees))
    )
    if line.chance.random() < 0.4:
        line.plants[line.new()] = PlantRow(graft, line.anybody(), at)


def _again(line: Lineage, at: datetime) -> None:
    """Onto a plant that was grafted before."""
    woods = _wood(line, at, 1) if line.plants else []
    if woods:
        line.grafts[line.new()] = GraftRow(
            [(woods[0], "scion")], line.anybody(), at, on_plant=line.chance.choice(list(line.plants))
        )


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
