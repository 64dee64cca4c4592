"""A cut list that was filled in by pencil, entered on one page with its own day: every row, or none and what is wrong with which."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Annotated
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request, Response
from sqlmodel import Session

from service.bundles import queries as bundle_queries
from service.bundles.rules import BundleFacts
from service.collection import queries as collection_queries
from service.collection.rules import CollectionFacts
from service.collection.schemas import CollectionCreate
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, is_id, read_form, submitted
from service.pages.render import frame, render
from service.tags import actions
from service.tags.rules.words import RowsRefused
from service.tags.schemas import BundlePart, LabelledCollection, LabelledCutCreate
from service.trees import queries as tree_queries
from service.trees.schemas import TreeOnRound

router = APIRouter(route_class=PageRoute)
Collector = Annotated[Asker, may(May.COLLECT)]
MOST_ROWS, SPARE = 150, 4
NOON = "12:00"


@dataclass(frozen=True)
class Row:
    """One line of the pencilled list: of a tree of the site, or a spare one in which its number is typed."""

    name: str
    tree: TreeOnRound | None = None


@router.get("/cut/from-paper")
def get_from_paper(
    request: Request, session: Read, asker: Collector, site: UUID | None = None, made: UUID | None = None
) -> Response:
    return _page(request, session, asker, site, Form(), made)


def _page(
    request: Request, session: Session, asker: Asker, site: UUID | None, form: Form, made: UUID | None = None
) -> Response:
    walk = tree_queries.site_round(session, site, frame(request).today) if site else None
    rows = [Row(str(tree.id), tree) for tree in walk.trees[:MOST_ROWS]] if walk else []
    rows += [Row(f"spare{number}") for number in range(1, SPARE + 1)] if walk else []
    return render(
        request, "collecting/from_paper.html", asker=asker, form=form, walk=walk, rows=rows, sites=choices.sites(session), site=site,
        made=_made(session, made, rows) if made else [],
        more=max(0, len(walk.trees) - MOST_ROWS) if walk else 0,
    )  # fmt: skip


def _made(session: Session, key: UUID, rows: list[Row]) -> list[tuple[CollectionFacts, BundleFacts]]:
    """What was entered under this key, in the order of the list, to write its codes on; two statements."""
    bundles = bundle_queries.facts_for_bundles(session, [_bundle_of(key, row.name) for row in rows])
    woods = collection_queries.facts_for_collections(
        session, {each.collection_id for each in bundles.values()}
    )
    listed = [bundles[id] for row in rows if (id := _bundle_of(key, row.name)) in bundles]
    return [(woods[each.collection_id], each) for each in listed]


def _cut_of(key: UUID, row: str) -> UUID:
    return uuid5(key, row)


def _bundle_of(key: UUID, row: str) -> UUID:
    return uuid5(key, f"{row} bundle")


@router.post("/cut/from-paper")
async def post_from_paper(request: Request, session: Read, asker: Collector) -> Response:
    form = await read_form(request)
    site = UUID(form.text("site")) if is_id(form.text("site")) else None

    async def save() -> list[LabelledCollection]:
        form.ask_of_day("day", frame(request).today)
        told = _told(form, frame(request).zone, request.app.state.clock.now())
        try:
            return await form.write(actions.enter_pencilled_cuts, asker, list(told.values()))
        except RowsRefused as refused:
            refused.at_fields({cut.cut.id: f"sticks.{name}" for name, cut in told.items()})
            raise

    return await submitted(
        request, form, save, lambda made: (f"/cut/from-paper?site={site}&made={form.key}", _words(made)),
        lambda: _page(request, session, asker, site, form),
    )  # fmt: skip


def _words(made: list[LabelledCollection]) -> str:
    sticks = sum(each.collection.sticks for each in made)
    return f"{len(made)} {'cut is' if len(made) == 1 else 'cuts are'} in the record, {sticks} sticks in all."


def _told(form: Form, zone: str, now: datetime) -> dict[str, LabelledCutCreate]:
    """A cut for each row in which sticks were counted, by the row's name. Raises `WrongFields` with all that is wrong."""
    names = [
        name.removeprefix("sticks.") for name in dict.fromkeys(form.data or ()) if name.startswith("sticks.")
    ]
    told, wrong = {}, dict[str, str]()
    for name in names[: MOST_ROWS + SPARE]:
        if not form.text(f"sticks.{name}"):
            if any(form.text(f"{field}.{name}") for field in ("mark", "time", "number", "stage")):
                wrong[f"sticks.{name}"] = "how many sticks?"
            continue
        try:
            told[name] = _row(form, name, zone, now)
        except WrongFields as error:
            wrong |= error.wrong
    if wrong:
        raise WrongFields(wrong)
    if not told:
        raise WrongFields({"form": "say of at least one tree how many sticks were cut"})
    return told


def _row(form: Form, name: str, zone: str, now: datetime) -> LabelledCutCreate:
    key, mark = form.id("form_key"), form.text(f"mark.{name}")
    fields = {
        field: form.text(f"{field}.{name}")
        for field in ("stage", "owner_agreed", "already_cut", "disinfected")
        if form.text(f"{field}.{name}")
    }
    at = when(form, name, zone, now)
    try:
        cut = form.into(
            CollectionCreate,
            id=_cut_of(key, name),
            tree_id=_tree_of(form, name),
            sticks=form.text(f"sticks.{name}"),
            done_at=at,
            **fields,
        )
        note = f"on paper: {mark}" if mark else ""
        part = form.into(BundlePart, id=_bundle_of(key, name), sticks=cut.sticks, note=note)
    except WrongFields as error:
        raise WrongFields(
            {field if "." in field else f"sticks.{name}": words for field, words in error.wrong.items()}
        ) from error
    return LabelledCutCreate(cut=cut, bundles=[part])


def _tree_of(form: Form, name: str) -> str:
    """The tree of the row; of a spare row, the one whose number was typed."""
    if not name.startswith("spare"):
        return name
    number = form.text(f"number.{name}")
    if number.isascii() and number.isdigit():
        with form.reading() as apart:
            found = tree_queries.list_trees(apart, Paging(limit=20, counted=False), exact=True, q=number)
        for tree in found.items:
            if tree.number == int(number):
                return str(tree.id)
    raise WrongFields({f"number.{name}": "no tree has this number"})


def when(form: Form, name: str, zone: str, now: datetime) -> datetime:
    """The paper's own day, and the hour that stands in the row; noon where none does, but never later than now."""
    told = form.text(f"time.{name}")
    try:
        day = date.fromisoformat(form.text("day"))
    except ValueError as error:
        raise WrongFields({"day": "the day that stands on the paper"}) from error
    try:
        hour = time.fromisoformat(told or NOON)
        at = datetime.combine(day, hour, ZoneInfo(zone)).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise WrongFields({f"time.{name}": "an hour, like 09:30"}) from error
    return at if told or day != now.astimezone(ZoneInfo(zone)).date() else min(at, now)
