"""Trees, cuts, receipts, stores and sticks of a season: one row, one deed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from service.bundles import actions as bundles
from service.bundles.rules import HandOverForm
from service.bundles.schemas import CutToLengthCreate, DiscardCreate, GiveOutsideCreate, RecountCreate
from service.catalogue.actions.loading import reference_id
from service.cli.season.files import Row, told, yes_or_no
from service.cli.season.story import Story
from service.collection.rules import Wood
from service.collection.schemas import CollectionCreate, ReceiptCreate
from service.exchange import actions as exchange
from service.exchange.schemas import HandOverCreate, ReturnCreate, SplitCreate, TableBackCreate
from service.storage import actions as storage
from service.storage.rules import Buds
from service.storage.schemas import BundleCheckCreate, PutAwayCreate
from service.tags import actions as tags
from service.tags.rules.words import TagKind
from service.tags.schemas import (
    BundlePart,
    LabelledCollection,
    LabelledCutCreate,
    LabelledReceiptCreate,
    TagCreate,
)
from service.trees import actions as trees
from service.trees.rules import CheckKind, CheckResult, Identity, MayCut
from service.trees.schemas import TreeCheckCreate, TreeCreate

# -- trees ---------------------------------------------------------------------------------------------------------


def add_trees(story: Story, rows: Sequence[Row]) -> None:
    """Trees, and a tag for each of them."""
    asker = story.asker(rows[0]["by"])
    bodies = [_tree(story, row) for row in rows]
    story.do(trees.add_trees, asker, bodies)
    tag_trees(story, rows[0]["by"], [row["key"] for row in rows])


def tag_trees(story: Story, by: str, keys: Sequence[str]) -> None:
    wanted = [TagCreate(kind=TagKind.TREE, thing_id=story.the("tree", key)) for key in keys]
    made = story.do(tags.add_tags, story.asker(by), wanted)
    story.codes.update({key: tag.code for key, tag in zip(keys, made, strict=True)})


def _tree(story: Story, row: Row) -> TreeCreate:
    return TreeCreate(
        id=story.new("tree", row["key"]), site_id=story.the("site", row["site"]), owner_id=story.party(row["owner"]),
        cultivar_id=cultivar_of(story, row["variety"]), taxon_id=reference_id("taxon", row["taxon"]) if row["taxon"] else None,
        identity=Identity(row["identity"]), may_cut=MayCut(row["may_cut"]), provisional=row["provisional"] == "yes",
        no_propagation_contract=row["contract"] == "yes", **stock_of(row["stock"], "stands_on"),
        **told(row, "note", "most_sticks", where_on_site="where", name_as_told="as_told", planted_year="planted"),
    )  # fmt: skip


def cultivar_of(story: Story, slug: str) -> UUID | None:
    """A variety by the catalogue's slug, or by the club's own key."""
    if not slug:
        return None
    return reference_id("cultivar", slug) if "--" in slug else story.the("cultivar", slug)


def stock_of(text: str, in_words: str) -> dict[str, Any]:
    """A rootstock by its slug, or in words, which begin with a capital letter."""
    if not text:
        return {}
    return {in_words: text} if text[0].isupper() else {"rootstock_id": reference_id("rootstock", text)}


def check_trees(story: Story, row: Row) -> None:
    looks = [
        TreeCheckCreate(
            tree_id=story.the("tree", key), kind=CheckKind(row["kind"]), result=CheckResult(row["result"]),
            **told(row, "agent", "note"),
        )
        for key in row["trees"].split()
    ]  # fmt: skip
    story.do(trees.record_tree_checks, story.asker(row["by"]), looks)


# -- wood ----------------------------------------------------------------------------------------------------------


def _parts(story: Story, row: Row, **measured: Any) -> list[BundlePart]:
    sticks = [int(count) for count in row["bundles"].split("+")]
    story.parts[row["key"]] = len(sticks)
    return [
        BundlePart(id=story.new("bundle", f"{row['key']}.{place}"), sticks=count, **measured)
        for place, count in enumerate(sticks, start=1)
    ]


def _note_codes(story: Story, row: Row, made: LabelledCollection) -> None:
    for place, bundle in enumerate(made.bundles, start=1):
        story.codes[f"{row['key']}.{place}"] = bundle.code or ""


def cut(story: Story, row: Row) -> None:
    wood = Wood(row["wood"])
    leaves: dict[str, bool] = {}
    if row["leaves"]:
        leaves = (
            {"leaves_off": row["leaves"] == "off"}
            if wood is Wood.SUMMER
            else {"leaves_down": row["leaves"] == "down"}
        )
    length, _, thickness = row["mm"].partition("x")
    measured = {"length_mm": int(length), "diameter_mm": float(thickness)} if row["mm"] else {}
    unfinished = wood is Wood.DORMANT and not row["stage"]
    parts = _parts(story, row, unfinished=unfinished, **measured)
    body = CollectionCreate(
        id=story.new("cut", row["key"]), tree_id=story.the("tree", row["tree"]), sticks=sum(part.sticks for part in parts), wood=wood,
        disinfected=yes_or_no(row["tools"]), **leaves, **told(row, "stage", "note", owner_agreed="agreed"),
    )  # fmt: skip
    asker = story.asker(row["by"], row["for"])
    (made,) = story.do(tags.collect_and_label, asker, [LabelledCutCreate(cut=body, bundles=parts)])
    _note_codes(story, row, made)


def receive(story: Story, row: Row) -> None:
    parts = _parts(story, row)
    body = ReceiptCreate(
        id=story.new("cut", row["key"]), cultivar_id=cultivar_of(story, row["variety"]),
        taxon_id=reference_id("taxon", row["taxon"]) if row["taxon"] else None, sticks=sum(part.sticks for part in parts),
        from_party_id=story.party(row["from"]) if row["from"] else None, area_id=story.the("area", row["area"]),
        **told(
            row, "from_whom", "tree_as_told", "cut_on", "stage", "note", name_as_told="as_told", their_reference="reference",
            health_paper="paper",
        ),
    )  # fmt: skip
    (made,) = story.do(
        tags.receive_and_label, story.asker(row["by"]), [LabelledReceiptCreate(receipt=body, bundles=parts)]
    )
    _note_codes(story, row, made)


def put_away(story: Story, row: Row) -> None:
    into: dict[str, Any] = {"out": True}
    if row["into"] != "out":
        kind = "box" if ("box", row["into"]) in story.ids else "place"
        into = {"into_box_id" if kind == "box" else "place_id": story.the(kind, row["into"])}
    if ("box", row["things"]) in story.ids:
        things = [{"box_id": story.the("box", row["things"])}]
    else:
        things = [{"bundle_id": bundle_id} for bundle_id in story.bundles(row["things"])]
    aside = row["aside"] == "yes"
    moves = [PutAwayCreate(**thing, **into, to_isolate=aside, note=row["note"]) for thing in things]
    story.do(storage.put_away, story.asker(row["by"]), moves)


def check_bundle(story: Story, row: Row) -> None:
    look = BundleCheckCreate(
        bundle_id=story.the("bundle", row["bundle"]), buds=Buds(row["buds"]) if row["buds"] else None,
        wrinkled=yes_or_no(row["wrinkled"]), mould=yes_or_no(row["mould"]), green_under_scratch=yes_or_no(row["green"]),
        **told(row, "note", bag_grams="grams"),
    )  # fmt: skip
    story.do(storage.record_bundle_checks, story.asker(row["by"]), [look])


# -- sticks --------------------------------------------------------------------------------------------------------


def move_sticks(story: Story, row: Row) -> None:
    asker, act = story.asker(row["by"], row["for"]), row["act"]
    bundle_id = story.the("bundle", row["bundle"])
    deed: dict[str, Any] = {"bundle_id": bundle_id, "reason": row["note"]}
    if act in set(HandOverForm):
        child = (
            {"child_id": story.new("bundle", row["child"]), "party_id": story.party(row["to"])}
            if row["to"]
            else {}
        )
        body = HandOverCreate(**deed, **child, form=HandOverForm(act), sticks=int(row["sticks"]))
        (made,) = story.do(exchange.hand_over, asker, [body])
        if row["child"]:
            story.codes[row["child"]] = made.bundle.code or ""
    elif act == "split":
        child_id = story.new("bundle", row["child"])
        (split,) = story.do(
            exchange.split_bundles, asker, [SplitCreate(**deed, child_id=child_id, sticks=int(row["sticks"]))]
        )
        story.codes[row["child"]] = split.bundle.code or ""
    elif act == "back":
        story.do(exchange.count_back, asker, TableBackCreate(**deed, sticks=int(row["sticks"])))
    elif act == "return":
        story.do(exchange.return_bundle, asker, ReturnCreate(**deed))
    else:
        _change_sticks(story, row, deed)


def _change_sticks(story: Story, row: Row, deed: dict[str, Any]) -> None:
    asker = story.asker(row["by"], row["for"])
    match row["act"]:
        case "outside":
            area, _, whom = row["to"].partition(": ")
            body = GiveOutsideCreate(
                **deed, sticks=int(row["sticks"]), to_whom=whom, area_id=story.the("area", area)
            )
            story.do(bundles.give_outside, asker, body)
        case "discard":
            story.do(bundles.discard_sticks, asker, DiscardCreate(**deed, sticks=int(row["sticks"])))
        case "recount":
            story.do(bundles.recount_bundle, asker, RecountCreate(**deed, counted=int(row["sticks"])))
        case "length":
            before, _, after = row["sticks"].partition(">")
            cut = CutToLengthCreate(**deed, sticks_before=int(before), sticks_after=int(after))
            story.do(bundles.cut_to_length, asker, cut)
        case other:
            raise ValueError(f"nothing is known of the act '{other}'")
