"""Sites: where trees stand, who opens the gate, and the rounds past their trees in leaf and in fruit."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from typing import Annotated, Any
from uuid import UUID, uuid5

import anyio.to_thread
from fastapi import APIRouter, Request, Response
from markupsafe import Markup
from sqlmodel import Session

from service.catalogue import queries as catalogue_queries
from service.lib.paging import Paging
from service.lib.pictures import BrokenPicture, keep_picture
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members.rules import May
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.pictures import NARROW, AirOfDay, air_over, both_widths, months_of
from service.pages.render import frame, render
from service.trees import actions, queries
from service.trees.rules import CheckKind, CheckResult
from service.trees.rules.seeing import saved_words
from service.trees.schemas import (
    LookPicture,
    SiteRead,
    SiteRound,
    SiteUpdate,
    TreeCheckCreate,
    TreeCheckRead,
    TreeOnRound,
)

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]
Looker = Annotated[Asker, may(May.TREE_CHECKS)]
Planter = Annotated[Asker, may(May.TREES)]
MOST_TREES = 150  # on one form: who walks on finds the rest there after saving
_POINT = ("latitude", "longitude")
_OF_SITE = ("name", "region", "area_id", "area_checked_on", "directions", "gate", "note", *_POINT)


@router.get("/sites")
def get_sites(request: Request, session: Read, asker: Reader, cursor: str | None = None) -> Response:
    page = queries.list_sites(session, Paging(cursor, 60), exact=May.TREE_CHECKS in asker.may)
    return render(request, "sites/sites.html", asker=asker, page=page)


@router.get("/sites/{site_id}")
def get_site(request: Request, session: Read, asker: Reader, site_id: UUID) -> Response:
    """One site: its area, its gate, what is stopped, and how far the rounds are."""
    walk = queries.site_round(
        session, site_id, frame(request).today, exact=May.TREE_CHECKS in asker.may
    )  # fmt: skip
    return render(
        request, "sites/site.html", asker=asker, walk=walk, seen=_seen(walk),
        air=_air(session, site_id, frame(request).today),
    )  # fmt: skip


def _air(session: Session, site_id: UUID, today: date) -> dict[str, Any] | None:
    """The year up to today in a picture and a table, and where it was measured; nothing where nobody told any."""
    first = today - timedelta(days=364)
    told = queries.air_at_site(session, site_id, first, today)
    days = [AirOfDay(each.day, each.lowest_c, each.highest_c) for each in told.days]
    if not days:
        return None
    used = {each.record_id for each in told.days}
    return {
        "picture": Markup(  # noqa: S704 - drawn here, its words escaped
            both_widths(air_over(days, first, today), air_over(days, first, today, width=NARROW))
        ),
        "months": months_of(days), "coldest": min(days, key=lambda each: each.lowest_c),
        "frosts": sum(each.lowest_c < 0 for each in days), "days": len(days), "last": days[-1].day,
        "records": [each for each in told.records if each.id in used],
    }  # fmt: skip


def _seen(walk: SiteRound) -> dict[str, int]:
    return {kind.value: sum(_is_seen(tree, kind) for tree in walk.trees) for kind in CheckKind}


def _is_seen(tree: TreeOnRound, kind: CheckKind) -> bool:
    """Whether the tree was seen in this round; a tree that could not be seen is still to see."""
    look = tree.leaf if kind is CheckKind.LEAF else tree.fruit
    return look is not None and look.result is not CheckResult.NOT_SEEN


@router.get("/sites/{site_id}/edit")
def get_edit(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    site = queries.get_site(session, site_id)
    told = {name: getattr(site, name) for name in _OF_SITE}
    return _edit_form(request, session, asker, site, Form(**told, version=site.version))


def _edit_form(request: Request, session: Read, asker: Asker, site: SiteRead, form: Form) -> Response:
    areas = choices.every_area(session)
    return render(request, "sites/edit.html", asker=asker, form=form, site=site, areas=areas)


@router.post("/sites/{site_id}/edit")
async def post_edit(request: Request, session: Read, asker: Planter, site_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> SiteRead:
        blank = {
            name: None if name in {"area_checked_on", *_POINT} else ""
            for name in _OF_SITE
            if not form.text(name)
            and name not in {"name", "area_id"}
            # A form from before it asked for the point does not take it away.
            and (name not in _POINT or name in (form.data or ()))
        }
        body = form.into(SiteUpdate, *_OF_SITE, **blank)
        return await form.write(actions.change_site, asker, site_id, body, form.version())

    return await submitted(
        request, form, save, lambda site: (f"/sites/{site.id}", saved_words("The site is changed.", site.warnings)),
        lambda: _edit_form(request, session, asker, queries.get_site(session, site_id), form),
    )  # fmt: skip


# -- rounds ----------------------------------------------------------------------------------------------------------


@router.get("/sites/{site_id}/round/{kind}")
def get_round(request: Request, session: Read, asker: Looker, site_id: UUID, kind: CheckKind) -> Response:
    """One tap for each tree: what was seen this season stands at the end, the rest first."""
    return _round_form(request, session, asker, site_id, kind, Form())


def _round_form(
    request: Request, session: Read, asker: Asker, site_id: UUID, kind: CheckKind, form: Form
) -> Response:
    walk = queries.site_round(session, site_id, frame(request).today)
    rest = [tree for tree in walk.trees if not _is_seen(tree, kind)]
    agents: dict[str, list[str]] = {}
    if kind is CheckKind.LEAF:
        for agent in catalogue_queries.list_agents(session):
            for genus in agent.host_genera:
                agents.setdefault(genus, []).append(agent.name)
    return render(
        request, "sites/round.html", asker=asker, form=form, walk=walk, kind=kind, rest=rest[:MOST_TREES],
        more=max(0, len(rest) - MOST_TREES), seen=[tree for tree in walk.trees if _is_seen(tree, kind)], agents=agents,
    )  # fmt: skip


@router.post("/sites/{site_id}/round/{kind}")
async def post_round(
    request: Request, session: Read, asker: Looker, site_id: UUID, kind: CheckKind
) -> Response:
    """All that was tapped is one act: every look or none."""
    form = await read_form(request)

    async def save() -> list[TreeCheckRead]:
        looks = _looks(form, kind)
        if not looks:
            raise WrongFields({"form": "tap what you saw of at least one tree"})
        with form.reading() as apart:
            there = {
                tree.id for tree in queries.site_round(apart, site_id, frame(request).today).trees
            }  # fmt: skip
        if any(look.tree_id not in there for look in looks):
            raise WrongFields({"form": "one of these trees does not stand on this site any more"})
        return await form.write(actions.record_tree_checks, asker, looks)

    return await submitted(
        request, form, save, lambda made: (f"/sites/{site_id}/round/{kind}", _told(made)),
        lambda: _round_form(request, session, asker, site_id, kind, form),
    )  # fmt: skip


def _looks(form: Form, kind: CheckKind) -> list[TreeCheckCreate]:
    """A look for each tree that was tapped; one form sent twice makes the same looks."""
    names = [name for name in dict.fromkeys(form.data or ()) if name.startswith("look.")]
    key, looks = form.id("form_key"), []
    for name in names:
        tree = name.removeprefix("look.")
        told = {"result": form.text(name), "note": form.text(f"note.{tree}")}
        if told["result"] == CheckResult.SYMPTOM:
            told["agent"] = form.text(f"agent.{tree}")
        if told["result"]:
            fixed = {field: words for field, words in told.items() if words}
            looks.append(
                form.into(TreeCheckCreate, "seen_on", tree_id=tree, kind=kind, id=uuid5(key, tree), **fixed)
            )
    return looks


_SAID = {
    "healthy": "healthy", "symptom": "with a symptom", "true": "true to name", "wrong": "not true to name", "not_seen": "not seen",
}  # fmt: skip


def _told(made: list[TreeCheckRead]) -> str:
    counts = Counter(look.result.value for look in made)
    parts = ", ".join(f"{counts[word]} {said}" for word, said in _SAID.items() if counts[word])
    return f"{len(made)} {'look is' if len(made) == 1 else 'looks are'} in the record: {parts}."


# -- looks that were made ----------------------------------------------------------------------------------------------


@router.post("/looks/{look_id}/taken-back")
async def post_taken_back(request: Request, session: Read, asker: Looker, look_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> TreeCheckRead:
        return await form.write(actions.take_back_look, asker, look_id)

    return await submitted(
        request, form, save, lambda look: (f"/trees/{look.tree_id}", "The look is taken back: it says nothing of the tree any more."),
        lambda: _look_page(request, session, asker, look_id, form),
    )  # fmt: skip


@router.get("/looks/{look_id}")
def get_look(request: Request, session: Read, asker: Looker, look_id: UUID) -> Response:
    """One look: its picture, and how it is taken back."""
    return _look_page(request, session, asker, look_id, Form())


def _look_page(request: Request, session: Read, asker: Asker, look_id: UUID, form: Form) -> Response:
    look = queries.get_look(session, look_id)
    return render(
        request, "sites/look.html", asker=asker, form=form, look=look, tree=queries.get_tree(session, look.tree_id),
        names=choices.names_for(session, asker, [look]),
        may_take_back={look.by_party_id, look.for_party_id} & {asker.party_id, asker.acting_for_id} or May.RELEASE in asker.may,
    )  # fmt: skip


@router.post("/looks/{look_id}/picture")
async def post_picture(request: Request, session: Read, asker: Looker, look_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> TreeCheckRead:
        sent = form.upload("picture")
        if sent is None:
            raise BrokenPicture("No picture came with the form.", field="picture")
        kept = await anyio.to_thread.run_sync(
            keep_picture, request.app.state.settings.data_dir, await sent.read()
        )
        return await form.write(actions.add_picture, asker, look_id, LookPicture(picture=kept.sha256))

    return await submitted(
        request, form, save, lambda look: (f"/looks/{look.id}", "The picture is kept with the look."),
        lambda: _look_page(request, session, asker, look_id, form),
    )  # fmt: skip
