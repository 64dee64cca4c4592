"""Grafts of a season, their takes, and the plants that became source trees."""

from __future__ import annotations

from typing import Any

from service.cli.season.files import Row, told
from service.cli.season.story import Story
from service.cli.season.wood import stock_of, tag_trees
from service.grafting import actions as grafting
from service.grafting.rules import Part
from service.grafting.schemas import GraftCreate, GraftWoodCreate, PlantAsTree, PlantCreate, TakeCheckCreate
from service.trees.rules import MayCut


def graft(story: Story, row: Row) -> None:
    key = row["key"]
    story.parts[key] = int(row["plants"])
    plants = [f"{key}.{place + 1}" for place in range(story.parts[key])]
    place: dict[str, Any] = {"site_id": story.the("site", row["site"])} if row["site"] else {}
    if row["holder"]:
        place |= {"for_club": True} if row["holder"] == "club" else {"holder_id": story.party(row["holder"])}
    body = GraftCreate(
        id=story.new("graft", key), woods=[_wood(story, word) for word in row["woods"].split()], method=row["method"],
        grafts=int(row["grafts"]), plants=[PlantCreate(id=story.new("plant", plant)) for plant in plants], **_stock(story, row["stock"]),
        **place, **told(row, "note"),
    )  # fmt: skip
    (made,) = story.do(grafting.record_grafts, story.asker(row["by"], row["for"]), [body])
    codes = {plant.id: plant.code or "" for plant in made.plants}
    story.codes.update({plant: codes[story.the("plant", plant)] for plant in plants})


def _wood(story: Story, word: str) -> GraftWoodCreate:
    """`bundle:sticks`, and `=interstem` where it is the piece between."""
    rest, _, part = word.partition("=")
    bundle, _, sticks = rest.partition(":")
    return GraftWoodCreate(
        bundle_id=story.the("bundle", bundle), sticks=int(sticks), part=Part(part or "scion")
    )


def _stock(story: Story, text: str) -> dict[str, Any]:
    kind, colon, key = text.partition(":")
    return {"stock_tree_id": story.the(kind, key)} if colon else stock_of(text, "stock_as_told")


def check_take(story: Story, row: Row) -> None:
    thing = row["thing"]
    kind = "graft" if ("graft", thing) in story.ids else "plant"
    body = TakeCheckCreate(
        **{f"{kind}_id": story.the(kind, thing)}, is_verdict=row["verdict"] == "yes", alive=int(row["alive"]),
        looked_at=int(row["looked_at"]), doubtful=int(row["doubtful"]), note=row["note"],
    )  # fmt: skip
    story.do(grafting.record_take_checks, story.asker(row["by"], row["for"]), [body])


def plant_out(story: Story, row: Row) -> None:
    body = PlantAsTree(
        id=story.new("tree", row["tree"]), site_id=story.the("site", row["site"]), owner_id=story.party(row["owner"]),
        may_cut=MayCut(row["may_cut"]), **told(row, "most_sticks", "note", where_on_site="where", planted_year="planted"),
    )  # fmt: skip
    story.do(grafting.plant_as_tree, story.asker(row["by"]), story.the("plant", row["plant"]), body)
    tag_trees(story, row["by"], [row["tree"]])
