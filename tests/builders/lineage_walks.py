"""Walking a made-up lineage by hand: plain loops over everything, with nothing of the service's own queries."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from uuid import UUID

from tests.builders.lineages import CutRow, Lineage, StayRow


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
    walked = Walked(
        cuts={
            one
            for one, cut in line.cuts.items()
            if cut.tree in origins and (since is None or cut.at.date() >= since)
        }
    )
    walked.plants |= {
        one for one, plant in line.plants.items() if line.grafts[plant.graft].on_tree in origins
    }
    return walk_on(line, walked)


def walk_on(line: Lineage, walked: Walked) -> Walked:
    before = -1
    while walked.size() != before:
        before = walked.size()
        walked.cuts |= {
            one for one, cut in line.cuts.items() if cut.tree in walked.trees or _cut_after(line, cut, walked)
        }
        walked.bundles |= {
            one
            for one, bundle in line.bundles.items()
            if bundle.collection in walked.cuts or bundle.parent in walked.bundles
        }
        walked.grafts |= {
            one
            for one, graft in line.grafts.items()
            if any(wood in walked.bundles for wood, _ in graft.woods)
        }
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
    for move in line.plant_moves:
        if move.plant in walked.plants | walked.carrying_plants:
            told |= {move.from_party, move.party}
    told |= {line.grafts[one].for_party for one in walked.grafts}
    told |= {line.cuts[line.bundles[one].collection].from_party for one in walked.bundles}
    told |= {line.bundles[one].holder for one in walked.bundles}
    told |= {move.party for move in line.moves if move.bundle in walked.bundles}
    for stay in line.stays:
        if stay.bundle in walked.bundles:
            told |= (
                {line.stores[stay.store]} if stay.store else {line.stores[s] for s in _stood_in(line, stay)}
            )
    return {one for one in told if one is not None}


def _stood_in(line: Lineage, stay: StayRow) -> set[UUID]:
    far = datetime(9999, 1, 1, tzinfo=UTC)
    return {
        other.store
        for other in line.stays
        if other.box == stay.into_box
        and other.store
        and other.from_at < (stay.until_at or far)
        and (other.until_at or far) > stay.from_at
    }


def sticks_at_tables(line: Lineage, walked: Walked) -> int:
    sign = {"table_out": 1, "table_back": -1}
    return sum(sign.get(move.kind, 0) * move.sticks for move in line.moves if move.bundle in walked.bundles)
