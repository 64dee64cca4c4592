"""Source trees: entering them, changing them, giving them their codes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from sqlalchemy import bindparam, delete, update
from sqlmodel import Session, col

from service.catalogue import queries as catalogue
from service.catalogue.rules import CultivarFacts, TaxonFacts
from service.catalogue.schemas import RootstockRead, written
from service.lib.clock import check_day, local_day
from service.lib.errors import AlreadyKnown, Unusable, check_version
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions import add_parties, take_numbers
from service.members.actions.versions import change_row, remove_unused
from service.members.rules import Member, PartyFacts
from service.members.schemas import PartyCreate
from service.trees import queries
from service.trees.actions.following import has_wood, note_changed_trees
from service.trees.actions.owning import note_word
from service.trees.rules import (
    OWNERS_WORD,
    Identity,
    TreeFacts,
    TreeNamed,
    can_rename,
    check_can_change_tree,
    check_plain_rename,
    check_planted_year,
    check_varieties,
    check_whose_word,
    tree_name,
)
from service.trees.schemas import (
    OwnerWordSet,
    TreeCreate,
    TreeRead,
    TreeUpdate,
    TreeVarietyCreate,
    TreeVarietyRead,
)
from service.trees.tables import SourceTree, TreeVariety


@dataclass(frozen=True)
class _Around:
    """All that new trees refer to, read with one statement each."""

    sites: Mapping[UUID, Any]
    cultivars: Mapping[UUID, CultivarFacts]
    taxa: Mapping[UUID, TaxonFacts]
    rootstocks: Mapping[UUID, RootstockRead]
    owners: Mapping[UUID, PartyFacts]


def add_trees(session: Session, member: Member, body: list[TreeCreate]) -> list[TreeRead]:
    """Enter trees, each with its number. The number of statements does not grow with theirs."""
    rows, wanted, around = _enter(session, member, body)
    return [_read(row, tree.varieties, around) for row, tree in zip(rows, wanted, strict=True)]


def enter_trees(session: Session, member: Member, body: list[TreeCreate]) -> None:
    """The same where nobody reads the answer, as with a long list."""
    _enter(session, member, body)


def _enter(
    session: Session, member: Member, body: list[TreeCreate]
) -> tuple[list[dict[str, Any]], list[TreeCreate], _Around]:
    if len({tree.id for tree in body}) < len(body):
        raise AlreadyKnown("The same tree is told twice.", field="id")
    now = recorded_at(session)
    today = local_day(now, members.club(session).zone)
    wanted = [_with_defaults(tree, member) for tree in body]
    around = _look_around(session, wanted)
    for tree in wanted:
        _check_tree(tree, around, today)
    numbers = take_numbers(session, "tree", len(wanted))
    rows = [
        {
            **tree.model_dump(exclude={"varieties", "taxon_id"}), "number": number, "taxon_id": _taxon_id(tree, around), "code": None,
            "felled_on": None, "open_stops": 0, "created_at": now, "by_party_id": member.party_id, "version": 1,
        }
        for number, tree in zip(numbers, wanted, strict=True)
    ]  # fmt: skip
    insert_rows(session, SourceTree, rows)
    insert_rows(
        session,
        TreeVariety,
        [{**one.model_dump(), "tree_id": tree.id} for tree in wanted for one in tree.varieties],
    )
    return rows, wanted, around


def add_met_tree(session: Session, member: Member, body: TreeCreate, owner: PartyCreate | None) -> TreeRead:
    """Enter a tree met on the way, to be finished later; with whoever looks after it, where nobody knew them yet."""
    if owner is not None:
        (known,) = add_parties(session, member, [owner])
        body = body.model_copy(update={"owner_id": known.id})
    return add_trees(session, member, [body.model_copy(update={"provisional": True})])[0]


def _with_defaults(tree: TreeCreate, member: Member) -> TreeCreate:
    named = tree.cultivar_id is not None or bool(tree.name_as_told)
    identity = tree.identity or (Identity.AS_TOLD if named else Identity.UNKNOWN)
    return tree.model_copy(update={"owner_id": tree.owner_id or member.acting_for_id, "identity": identity})


def _look_around(session: Session, body: list[TreeCreate]) -> _Around:
    cultivar_ids = {tree.cultivar_id for tree in body if tree.cultivar_id} | {
        one.cultivar_id for tree in body for one in tree.varieties
    }
    cultivars = catalogue.facts_for_cultivars(session, cultivar_ids) if cultivar_ids else {}
    taxon_ids = {tree.taxon_id for tree in body if tree.taxon_id} | {
        facts.taxon_id for facts in cultivars.values()
    }
    stock_ids = {stock for tree in body for stock in (tree.rootstock_id, tree.interstem_id) if stock}
    return _Around(
        sites={site.id: site for site in queries.sites_by_id(session, {tree.site_id for tree in body})},
        cultivars=cultivars,
        taxa=catalogue.facts_for_kinds(session, taxon_ids),
        rootstocks=catalogue.facts_for_rootstocks(session, stock_ids) if stock_ids else {},
        owners=members.facts_for_parties(session, {tree.owner_id for tree in body if tree.owner_id}),
    )


def _taxon_id(tree: TreeCreate, around: _Around) -> UUID:
    if tree.taxon_id is not None:
        return tree.taxon_id
    if tree.cultivar_id is not None:
        return around.cultivars[tree.cultivar_id].taxon_id
    raise Unusable("Tell the tree’s kind, or its variety.", field="taxon_id")


def _check_tree(tree: TreeCreate, around: _Around, today: date) -> None:
    _must_be_known([tree.site_id], around.sites, "site_id", "There is no site with this id.")
    varieties = [one.cultivar_id for one in tree.varieties]
    named = [*varieties, tree.cultivar_id] if tree.cultivar_id else varieties
    _must_be_known(named, around.cultivars, "cultivar_id", "The catalogue has no such variety.")
    if len(set(named)) < len(named):
        raise Unusable("A variety is told twice for the same tree.", field="varieties")
    taxon_id = _taxon_id(tree, around)
    _must_be_known([taxon_id], around.taxa, "taxon_id", "The catalogue has no such kind.")
    _must_be_known(
        [tree.rootstock_id], around.rootstocks, "rootstock_id", "The catalogue has no such rootstock."
    )
    _must_be_known(
        [tree.interstem_id], around.rootstocks, "interstem_id", "The catalogue has no such rootstock."
    )
    owner = around.owners.get(tree.owner_id) if tree.owner_id else None
    if owner is None or owner.forgotten:
        raise Unusable("Nobody goes by this id, or they were forgotten.", field="owner_id")
    check_varieties(taxon_id, [tree.cultivar_id] if tree.cultivar_id else [], around.cultivars)
    check_planted_year(tree.planted_year, today)


def _must_be_known(ids: Iterable[UUID | None], known: Mapping[UUID, Any], field: str, words: str) -> None:
    for one in ids:
        if one is not None and one not in known:
            raise Unusable(words, field=field, id=str(one))


def _read(row: Mapping[str, Any], varieties: list[TreeVarietyCreate], around: _Around) -> TreeRead:
    site, taxon = around.sites[row["site_id"]], around.taxa[row["taxon_id"]]
    cultivar = around.cultivars.get(row["cultivar_id"])
    stock, between = around.rootstocks.get(row["rootstock_id"]), around.rootstocks.get(row["interstem_id"])
    more = [
        TreeVarietyRead(**one.model_dump(), name=around.cultivars[one.cultivar_id].page_name)
        for one in varieties
    ]
    return TreeRead(
        **{name: value for name, value in row.items() if name != "by_party_id"}, site_name=site.name, region=site.region,
        area_id=site.area_id, kind=taxon.kind, page_name=tree_name(cultivar.page_name if cultivar else "", row["name_as_told"]),
        owner_name=around.owners[row["owner_id"]].name, last_leaf_check=None, last_fruit_check=None,
        name=written(cultivar) if cultivar else None, rootstock=stock.name if stock else "", interstem=between.name if between else "",
        varieties=more,
    )  # fmt: skip


def remove_trees(session: Session, tree_ids: Collection[UUID]) -> None:
    """Trees that were entered by mistake and never used; their numbers are not given again."""
    remove_unused(session, SourceTree, tree_ids)


# -- changing ------------------------------------------------------------------------------------------------------


def change_tree(session: Session, member: Member, tree_id: UUID, body: TreeUpdate, version: int) -> TreeRead:
    """Correct what is known of a tree. On a stopped tree only notes may change, and a doubtful name be put right."""
    told = body.told()
    facts = queries.get_facts(session, tree_id, lock=True)
    before = queries.get_tree(session, tree_id)
    check_version(before.version, version)
    check_can_change_tree(facts, told)
    changed = {name for name in told if name != "felled_on" and told[name] != getattr(before, name, None)}
    check_whose_word(
        member, changed, owner_id=before.owner_id, owner=before.owner_name, note=str(told.get("rights_note", "")),
        ends_contract=before.no_propagation_contract and told.get("no_propagation_contract") is False,
    )  # fmt: skip
    after = TreeCreate(
        **{**_as_body(before), **{name: value for name, value in told.items() if name != "felled_on"}}
    )
    around = _look_around(session, [after])
    now, zone = recorded_at(session), members.club(session).zone
    _check_tree(after, around, local_day(now, zone))
    if body.felled_on is not None:
        check_day(body.felled_on, now, zone, field="felled_on")
    _check_name(session, facts, after, around)
    change_row(
        session,
        SourceTree,
        tree_id,
        version,
        {name: value for name, value in told.items() if name != "varieties"},
    )
    if changed & OWNERS_WORD:
        said = OwnerWordSet(may_cut=after.may_cut, most_sticks=after.most_sticks)
        note_word(session, member, tree_id, said)
    if "varieties" in told:
        session.execute(delete(TreeVariety).where(col(TreeVariety.tree_id) == tree_id))
        insert_rows(
            session, TreeVariety, [{**one.model_dump(), "tree_id": tree_id} for one in after.varieties]
        )
    note_changed_trees(session, [tree_id])
    return queries.get_tree(session, tree_id)


def _check_name(session: Session, tree: TreeFacts, after: TreeCreate, around: _Around) -> None:
    """A plain edit may name a tree only while no wood of it is in the record."""
    old = TreeNamed(tree.taxon_id, tree.cultivar_id, tree.name_as_told, tree.name)
    new = TreeNamed(_taxon_id(after, around), after.cultivar_id, after.name_as_told, "")
    if can_rename(old, new):
        check_plain_rename(old, new, has_wood=has_wood(session, tree.id))


def _as_body(tree: TreeRead) -> dict[str, Any]:
    kept = {name: getattr(tree, name) for name in TreeCreate.model_fields if name != "varieties"}
    varieties = [
        {"cultivar_id": one.cultivar_id, "branch": one.branch, "since": one.since} for one in tree.varieties
    ]
    return {**kept, "varieties": varieties}


def set_codes(session: Session, codes: dict[UUID, str]) -> None:
    """Tell trees the codes of their tags; one statement."""
    if codes:
        tree = SourceTree.__table__  # type: ignore[attr-defined]
        statement = (
            update(tree)
            .where(tree.c.id == bindparam("tree_id"))
            .values(code=bindparam("new_code"), version=tree.c.version + 1)
        )
        session.execute(
            statement, [{"tree_id": tree_id, "new_code": code} for tree_id, code in codes.items()]
        )
        note_changed_trees(session, list(codes))
