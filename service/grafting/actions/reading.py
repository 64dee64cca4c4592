"""What was asked at the bench, with its codes read and its woods and stocks looked up, before anything is decided."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.catalogue.rules import JoinAdvice
from service.grafting import queries, rules
from service.grafting.queries import JoinAsked, Method, PlantAsStock, Sort, TreeAsStock
from service.grafting.rules import Part, PlantState, StockAtBench, WoodAtBench
from service.grafting.schemas import GraftCreate, GraftWoodCreate, PlantCreate
from service.lib.clock import check_done_at, local_day
from service.members.queries import club
from service.members.rules import Member
from service.storage.queries import lock_bundles, resolve_codes
from service.tags.rules.words import TagKind

Codes = Mapping[str, tuple[TagKind, UUID]]


@dataclass(frozen=True)
class ReadWood:
    bundle_id: UUID
    body: GraftWoodCreate


@dataclass(frozen=True)
class ReadGraft:
    """One graft that is asked for: its woods, its stock and its plants by id, its time settled."""

    body: GraftCreate
    woods: tuple[ReadWood, ...]
    tree_id: UUID | None
    plant_id: UUID | None
    plants: tuple[PlantCreate, ...]
    done_at: datetime
    made_on: date

    @property
    def site_id(self) -> UUID | None:
        return self.body.site_id


@dataclass
class Bench:
    """Everything the grafts of one request lie on."""

    woods: dict[UUID, WoodAtBench]
    rootstocks: dict[UUID, StockAtBench]
    trees: dict[UUID, TreeAsStock]
    plants: dict[UUID, PlantAsStock]
    methods: dict[str, Method]
    site_areas: dict[UUID, UUID]
    advice: dict[JoinAsked, JoinAdvice] = field(default_factory=dict)


def read_grafts(
    session: Session, member: Member, body: Sequence[GraftCreate], at: datetime
) -> list[ReadGraft]:
    """Codes and times read; three statements at most. A scanned code means the party's own flag, where it holds one."""
    typed = {graft.stock_code: "stock_code" for graft in body if graft.stock_code is not None}
    typed |= {wood.code: "code" for graft in body for wood in graft.woods if wood.code is not None}
    codes: Codes = resolve_codes(session, typed) if typed else {}
    scanned = {_bundle_of(wood, codes) for graft in body for wood in graft.woods}
    flags = queries.flags_of(session, scanned, member.acting_for_id)
    zone = club(session).zone
    read: list[ReadGraft] = []
    for graft in body:
        woods = []
        for wood in graft.woods:
            bundle_id = _bundle_of(wood, codes)
            if wood.code is not None or not rules.any_wood(member):
                bundle_id = rules.own_flag(flags, bundle_id, member.acting_for_id, wood.sticks)
            woods.append(ReadWood(bundle_id, wood))
        done_at = check_done_at(graft.done_at, at)
        tree_id, plant_id = _stock_of(graft, codes)
        plants = (
            tuple(PlantCreate() for _ in range(graft.plants))
            if isinstance(graft.plants, int)
            else tuple(graft.plants)
        )
        read.append(
            ReadGraft(graft, tuple(woods), tree_id, plant_id, plants, done_at, local_day(done_at, zone))
        )
    return read


def _bundle_of(wood: GraftWoodCreate, codes: Codes) -> UUID:
    if wood.bundle_id is not None:
        return wood.bundle_id
    kind, thing_id = codes[wood.code or ""]
    if kind is not TagKind.BUNDLE:
        raise rules.NotForGrafting(f"This is the tag of a {kind}; wood is cut from a bundle.", field="code")
    return thing_id


def _stock_of(graft: GraftCreate, codes: Codes) -> tuple[UUID | None, UUID | None]:
    if graft.stock_code is None:
        return graft.stock_tree_id, graft.plant_id
    kind, thing_id = codes[graft.stock_code]
    if kind not in (TagKind.TREE, TagKind.PLANT):
        raise rules.NotForGrafting(
            f"This is the tag of a {kind}; a tree or a plant is grafted on.", field="stock_code"
        )
    return (thing_id, None) if kind is TagKind.TREE else (None, thing_id)


def look_over_bench(session: Session, grafts: Sequence[ReadGraft]) -> Bench:
    """Stocks, woods, methods and what is known of every join; at most thirteen statements, however many grafts.

    Trees and plants are kept from other writers first, then the bundles: the order in which a stop binds them.
    """
    plant_ids = {graft.plant_id for graft in grafts if graft.plant_id}
    plants = queries.plants_at_bench(session, plant_ids) if plant_ids else {}
    tree_ids = {graft.tree_id for graft in grafts if graft.tree_id}
    tree_ids |= {plant.source_tree_id for plant in plants.values() if plant.source_tree_id}
    rootstock_ids = {graft.body.rootstock_id for graft in grafts if graft.body.rootstock_id}
    slugs = {graft.body.method for graft in grafts if graft.body.method}
    site_ids = {graft.site_id for graft in grafts if graft.site_id}
    trees = queries.trees_at_bench(session, tree_ids) if tree_ids else {}
    bundle_ids = {wood.bundle_id for graft in grafts for wood in graft.woods}
    lock_bundles(session, bundle_ids)
    bench = Bench(
        woods=queries.woods_at_bench(session, bundle_ids),
        rootstocks=queries.rootstocks_at_bench(session, rootstock_ids) if rootstock_ids else {},
        trees=trees,
        plants=plants,
        methods=queries.methods_at_bench(session, slugs) if slugs else {},
        site_areas=queries.areas_of_sites(session, site_ids) if site_ids else {},
    )
    _check_all_stand(grafts, bench)
    bench.advice = queries.advise_all(
        session, {join for graft in grafts for join, _, _ in joins_of(graft, bench)}
    )
    return bench


def _check_all_stand(grafts: Iterable[ReadGraft], bench: Bench) -> None:
    for graft in grafts:
        for wood in graft.woods:
            if wood.bundle_id not in bench.woods:
                raise rules.NoSuchWood(
                    "There is no bundle under this id.", field="bundle_id", id=str(wood.bundle_id)
                )
        stocks = (
            ("rootstock_id", graft.body.rootstock_id, bench.rootstocks),
            ("stock_tree_id", graft.tree_id, bench.trees),
            ("plant_id", graft.plant_id, bench.plants),
            ("site_id", graft.site_id, bench.site_areas),
        )
        for name, thing_id, known in stocks:
            if thing_id is not None and thing_id not in known:
                raise rules.NoSuchStock("There is nothing under this id.", field=name, id=str(thing_id))
        if graft.body.method and graft.body.method not in bench.methods:
            raise rules.NoSuchMethod(f"There is no method “{graft.body.method}”.", field="method")


def stock_at_bench(graft: ReadGraft, bench: Bench) -> StockAtBench:
    """The stock as it stands; a plant that became a source tree is bound by the tree's stops too."""
    if graft.body.rootstock_id is not None:
        return bench.rootstocks[graft.body.rootstock_id]
    if graft.tree_id is not None:
        return bench.trees[graft.tree_id].stock
    if graft.plant_id is None:
        return StockAtBench(graft.body.stock_as_told)
    plant = bench.plants[graft.plant_id]
    tree = bench.trees[plant.source_tree_id].stock if plant.source_tree_id else None
    if tree is None:
        return plant.stock
    return StockAtBench(
        plant.stock.name,
        plant.stock.open_stops + tree.open_stops,
        plant.stock.gone or tree.gone,
        tree.area_id,
    )


def joins_of(graft: ReadGraft, bench: Bench) -> list[tuple[JoinAsked, str, str]]:
    """The joins a graft makes, each with the words for its two sides: scions on the interstem, that on the stock."""
    scions = [bench.woods[wood.bundle_id] for wood in graft.woods if wood.body.part is Part.SCION]
    between = [bench.woods[wood.bundle_id] for wood in graft.woods if wood.body.part is Part.INTERSTEM]
    joins = [
        (JoinAsked(_sort(scion), stock=_sort(piece)), scion.variety, piece.variety)
        for scion in scions
        for piece in between
    ]
    name = stock_at_bench(graft, bench).name
    return joins + [(_on_stock(wood, graft, bench), wood.variety, name) for wood in between or scions]


def _sort(wood: WoodAtBench) -> Sort:
    return Sort(wood.taxon_id, wood.cultivar_id)


def _on_stock(wood: WoodAtBench, graft: ReadGraft, bench: Bench) -> JoinAsked:
    if graft.tree_id is not None:
        return JoinAsked(_sort(wood), stock=bench.trees[graft.tree_id].sort)
    if graft.plant_id is not None:
        plant = bench.plants[graft.plant_id]
        if plant.state is PlantState.FAILED:  # what is left of it is the stock it stood on
            return JoinAsked(_sort(wood), rootstock_id=plant.rootstock_id)
        return JoinAsked(_sort(wood), stock=plant.sort)
    return JoinAsked(_sort(wood), rootstock_id=graft.body.rootstock_id)
