"""Labels, codes and tags for tests, and a yard with a tree whose wood can be tagged."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session

from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, Taxon
from service.collection.tables import Collection
from service.lib.codes import ALPHABET, RANDOM_SIGNS, check_sign
from service.lib.write import Writer, insert_rows
from service.members.rules import May
from service.members.tables import Area, Club, Party
from service.tags import actions
from service.tags.rules.labels import (
    Label,
    LabelWords,
    WoodName,
    box_words,
    bundle_words,
    plant_words,
    store_words,
    tree_words,
)
from service.tags.rules.words import Placement, TagKind
from service.tags.schemas import PublicAddressCreate, PublicAddressRead, TagCreate, TagRead
from service.trees.tables import Site, SourceTree

TODAY = date(2026, 2, 14)
CUT_ON = date(2026, 1, 14)

# Names of real varieties and made-up hard ones: accents, other scripts, right to left, far too long.
NAMES = (
    "‘Ashmead’s Kernel’", "‘Doyenné du Comice’", "‘Reine-Claude d’Oullins’", "‘Апорт Александр’", "‘Φιρίκι Πηλίου’",
    "‘תאנה שחורה של יריחו’", "‘مشمش حموي’", "‘Ősi Šampion Ľubovňa’", "‘Ế Ǻngström Ữ’", "‘Kordia’",
    "‘Schöner aus Boskoop (älterer Klon der Baumschule zu Überlingen am Bodensee, zweite Aufzucht)’",
    f"‘{'W' * 298}’", "‘" + "lang und breit " * 20 + "’", "‘שלום Kordia 12 עולם (ישן)’", "‘🍏 幸水’", "‘Z̷̧̡a̶̢̛l̵̨̛g̸̢o̷’",
)  # fmt: skip


def make_codes(count: int, seed: int = 5) -> list[str]:
    """Sound codes, the same for the same seed."""
    chance = random.Random(seed)
    bodies = ("".join(chance.choice(ALPHABET) for _ in range(RANDOM_SIGNS)) for _ in range(count))
    return [body + check_sign(body) for body in bodies]


def make_wood_name(**changes: Any) -> WoodName:
    return WoodName(**{"kind": "Apple", "variety": "‘Ashmead’s Kernel’", **changes})


def make_label(
    code: str = "", *, words: LabelWords | None = None, placement: Placement = Placement.BAG, **changes: Any
) -> Label:
    """A bundle's label; `changes` are those of `bundle_words`."""
    name = changes.pop("name", None) or make_wood_name()
    facts = {"cut_on": CUT_ON, "sticks": 12, "tree": "tree 7", "today": TODAY, **changes}
    return Label(code or make_codes(1)[0], words or bundle_words(name, **facts), placement)


def make_hard_labels(seed: int = 5) -> list[Label]:
    """Bundles with every hard name, and one label for each of the other things, with and without marks."""
    codes: Iterator[str] = iter(make_codes(len(NAMES) * 2 + 8, seed))
    protected = {"protection": "protected", "protected_until": date(2031, 3, 1)}
    labels = [make_label(next(codes), name=make_wood_name(variety=name)) for name in NAMES]
    labels += [
        make_label(
            next(codes), name=make_wood_name(variety=name, trade_designation="PINK LADY", **protected), no_propagation=True,
            sticks=1203, tree="tree 12034", summer=True, placement=Placement.WOOD,
        )
        for name in NAMES
    ]  # fmt: skip
    long = make_wood_name(variety=NAMES[10], **protected)
    others = [
        tree_words(long, number=1203, planted_year=1998, today=TODAY, stands_on="seedling of unknown origin", no_propagation=True),
        tree_words(make_wood_name(), number=7, planted_year=None, today=TODAY),
        box_words("Blue crate 3"), box_words(NAMES[12]), store_words("Garage fridge", kind="fridge"),
        store_words(NAMES[11], kind="cold room"), plant_words(long, stock="M.9 T337", grafted_on=date(2026, 4, 12), number=23, today=TODAY),
        plant_words(make_wood_name(), stock="seedling", grafted_on=date(2026, 4, 2), number=9, today=TODAY),
    ]  # fmt: skip
    return labels + [Label(next(codes), words) for words in others]


@dataclass(frozen=True)
class Labeller:
    """Somebody who may do everything, with only what actions ask of them."""

    account_id: UUID = field(default_factory=uuid4)
    party_id: UUID = field(default_factory=uuid4)
    may: frozenset[May] = frozenset(May)

    @property
    def acting_for_id(self) -> UUID:
        return self.party_id


@dataclass(frozen=True)
class Yard:
    """A club, one apple tree with number 7, one cutting of it, and somebody who labels."""

    member: Labeller
    tree_id: UUID
    collection_id: UUID
    taxon_id: UUID
    cultivar_id: UUID


def make_yard(writer: Writer, **tree: Any) -> Yard:
    at = datetime(2026, 1, 14, 9, tzinfo=UTC)
    yard = Yard(Labeller(), uuid4(), uuid4(), uuid4(), uuid4())
    area, site, member = uuid4(), uuid4(), yard.member.party_id
    common = {"taxon_id": yard.taxon_id, "cultivar_id": yard.cultivar_id, "by_party_id": member}
    known = "common practice, no source"
    groups: list[list[Any]] = [
        [
            Club(
                id=1, name="Marsh End Grafters", short_name="Marsh End Grafters", zone="Pacific/Auckland",
                next_tree_number=8, next_collection_number=2,
            ),
            Area(id=area, name="Coast"),
        ],
        [Party(id=member, kind="member", name="Wilma Rask", created_at=at), Site(id=site, name="Mill yard", area_id=area)],
        [Taxon(id=yard.taxon_id, slug="apple", botanical_name="Malus domestica", genus="Malus", kind="Apple", source=known, mark=known)],
        [Cultivar(id=yard.cultivar_id, taxon_id=yard.taxon_id, epithet="Ashmead's Kernel", protection="free", created_at=at)],
        [SourceTree(id=yard.tree_id, number=7, site_id=site, owner_id=member, created_at=at, **{"may_cut": "yes", **common, **tree})],
        [
            Collection(
                id=yard.collection_id, number=1, kind="cut", tree_id=yard.tree_id, cut_on=CUT_ON, done_at=at, recorded_at=at,
                for_party_id=member, sticks=12, **common,
            )
        ],
    ]  # fmt: skip
    for rows in groups:
        writer.write_now(_merge, None, rows)
    return yard


def _merge(session: Session, rows: list[Any]) -> None:
    for row in rows:
        session.merge(row)
    session.flush()


def make_bundles(writer: Writer, yard: Yard, count: int = 1, **given: Any) -> list[UUID]:
    """Bundles as rows, without their ledger: for what asks only that they exist."""
    at = datetime(2026, 1, 14, 9, tzinfo=UTC)
    bundle = {
        "collection_id": yard.collection_id,
        "came_in": 12,
        "sticks_at_start": 12,
        "made_at": at,
        **given,
    }
    rows = [Bundle(id=uuid4(), **bundle).model_dump() for _ in range(count)]
    writer.write_now(insert_rows, None, Bundle, rows)
    return [row["id"] for row in rows]


def tag_bundles(
    writer: Writer, yard: Yard, *bundle_ids: UUID, placement: Placement = Placement.BAG
) -> list[TagRead]:
    wanted = [
        TagCreate(kind=TagKind.BUNDLE, thing_id=bundle_id, placement=placement) for bundle_id in bundle_ids
    ]
    return writer.write_now(actions.add_tags, yard.member, wanted)


def confirm_host(writer: Writer, yard: Yard, host: str = "tags.marsh-end.example") -> PublicAddressRead:
    proposed = writer.write_now(actions.propose_address, yard.member, PublicAddressCreate(host=host))
    return writer.write_now(actions.confirm_address, yard.member, proposed.id)
