"""Trees, bundles, plants and sites: the record, to read and to mend."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote
from uuid import UUID

from fastapi import APIRouter, Request, Response

from service.bundles import actions as bundle_actions
from service.bundles import queries as bundle_queries
from service.bundles.schemas import CutToLengthCreate, DiscardCreate, RecountCreate
from service.catalogue import queries as catalogue_queries
from service.collection import queries as collection_queries
from service.exchange import actions as exchange_actions
from service.exchange.schemas import ReturnCreate, SplitCreate
from service.lib.errors import NotFound
from service.lib.paging import Paging
from service.lib.request import Read
from service.lib.routing import PageRoute
from service.members import queries as member_queries
from service.members.rules import Everybody, May, names_only, sees_people
from service.members.signin import Asker, may
from service.pages import choices
from service.pages.finding import id_of
from service.pages.forms import Form, WrongFields, read_form, submitted
from service.pages.lines import keeps_of, lines_for
from service.pages.owning import may_say
from service.pages.pictures import life_line_of, lineage_of
from service.pages.render import frame, render
from service.provenance import queries as provenance_queries
from service.provenance.rules.lineage import Thing
from service.storage import queries as storage_queries
from service.storage.queries.keeping import kept_keeping
from service.tags import queries as tag_queries
from service.trees import actions as tree_actions
from service.trees import queries as tree_queries
from service.trees.rules import bare_words
from service.trees.rules.seeing import saved_words
from service.trees.schemas import LookCreate, SiteCreate, SiteRead, TreeCreate

router = APIRouter(route_class=PageRoute)
Reader = Annotated[Asker, may(May.READ)]
Sticker = Annotated[Asker, may(May.STICKS)]
Looker = Annotated[Asker, may(May.TREE_CHECKS)]
Planter = Annotated[Asker, may(May.TREES)]


# -- trees ---------------------------------------------------------------------------------------------------------


@router.get("/trees")
def get_trees(
    request: Request,
    session: Read,
    asker: Reader,
    q: str = "",
    site: UUID | None = None,
    cursor: str | None = None,
    unfinished: bool = False,
) -> Response:
    page = tree_queries.list_trees(
        session, Paging(cursor, 40), exact=May.TREES in asker.may, q=q.strip()[:200], site_id=site, provisional=unfinished or None
    )  # fmt: skip
    return render(
        request,
        "records/trees.html",
        asker=asker,
        page=page,
        words=q,
        site=site,
        sites=choices.sites(session),
        unfinished=unfinished,
    )


@router.get("/trees/new")
def get_new_tree(request: Request, session: Read, asker: Planter, site: UUID | None = None) -> Response:
    return _tree_form(request, session, asker, Form(site_id=site, may_cut="ask"))


def _tree_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(
        request, "records/new_tree.html", asker=asker, form=form, sites=choices.sites(session), kinds=choices.kinds(session),
        people=choices.people(request), stocks=choices.rootstocks(session),
    )  # fmt: skip


@router.post("/trees/new")
async def post_new_tree(request: Request, session: Read, asker: Planter) -> Response:
    form = await read_form(request)

    async def save() -> UUID:
        names = (
            "site_id",
            "where_on_site",
            "name_as_told",
            "may_cut",
            "most_sticks",
            "planted_year",
            "stands_on",
            "note",
        )
        kind = id_of(form, "taxon_id", choices.kinds)
        found = _variety(form, kind.get("taxon_id"))
        body = form.into(
            TreeCreate,
            *names,
            id=form.id("form_key"),
            provisional=found is None,
            **({"cultivar_id": found} if found else {}),
            **kind,
            **id_of(form, "owner_id", choices.parties),
            **id_of(form, "rootstock_id", choices.rootstocks),
        )
        return (await form.write(tree_actions.add_trees, asker, [body]))[0].id

    return await submitted(
        request, form, save, lambda tree_id: (f"/trees/{tree_id}", "The tree is in the record."),
        lambda: _tree_form(request, session, asker, form),
    )  # fmt: skip


def _variety(form: Form, taxon: UUID | None) -> UUID | None:
    """The variety whose name was typed, where exactly that name is known for the kind."""
    told = form.text("name_as_told")
    if not told:
        return None
    if not taxon:
        raise WrongFields({"taxon_id": "choose the kind"})
    with form.reading() as session:
        found = catalogue_queries.find_cultivar(session, taxon, told)
    return found.id if found else None


@router.get("/sites/new")
def get_new_site(request: Request, session: Read, asker: Planter) -> Response:
    areas = choices.every_area(session)
    return _site_form(request, session, asker, Form(area_id=areas[0][0] if len(areas) == 1 else None))


def _site_form(request: Request, session: Read, asker: Asker, form: Form) -> Response:
    return render(request, "records/new_site.html", asker=asker, form=form, areas=choices.every_area(session))


@router.post("/sites/new")
async def post_new_site(request: Request, session: Read, asker: Planter) -> Response:
    form = await read_form(request)

    async def save() -> SiteRead:
        names = ("name", "region", "area_id", "area_checked_on", "directions", "latitude", "longitude")
        body = form.into(SiteCreate, *names, id=form.id("form_key"))
        return await form.write(tree_actions.add_site, asker, body)

    return await submitted(
        request, form, save,
        lambda site: (f"/trees/new?site={site.id}", saved_words("The site is in the record. Its first tree?", site.warnings)),
        lambda: _site_form(request, session, asker, form),
    )  # fmt: skip


@router.get("/trees/{tree_id}")
def get_tree(request: Request, session: Read, asker: Reader, tree_id: UUID) -> Response:
    tree = tree_queries.get_tree(session, tree_id, exact=May.TREES in asker.may)
    bundles = bundle_queries.list_bundles(
        session, Paging(limit=30), tree_id=tree_id, name_only=names_only(asker)
    )
    looks = tree_queries.list_tree_checks(session, Paging(limit=20), tree_id)
    called = tree_queries.list_name_changes(session, Paging(limit=100, counted=False), tree_id).items
    now, when = (
        ("", "") if tree.felled_on else collection_queries.tree_winter(session, tree_id, frame(request).today)
    )
    return render(
        request, "records/tree.html", asker=asker, tree=tree, may_say=may_say(asker, tree), winter_now=now, when_to_cut=when,
        looks=looks, called=called, gone=collection_queries.list_cuts_gone(session, tree_id),
        names=choices.names_for(session, asker, [*looks.items, *called]),
        bundles=bundles, lines=lines_for(request, session, bundles.items), kept=keeps_of(session, bundles.items),
        cuts=collection_queries.list_collections(session, Paging(limit=20), tree_id=tree_id),
        picture=lineage_of(
            provenance_queries.trace_forward(session, Thing.TREE, tree_id, with_names=False), focus=tree_id, opens=_opens(asker)
        ),
    )  # fmt: skip


@router.get("/trees/{tree_id}/look")
def get_look(request: Request, session: Read, asker: Looker, tree_id: UUID, kind: str = "leaf") -> Response:
    return _look_form(request, session, asker, tree_id, Form(kind=kind))


def _look_form(request: Request, session: Read, asker: Asker, tree_id: UUID, form: Form) -> Response:
    tree = tree_queries.get_tree(session, tree_id, exact=May.TREES in asker.may)
    return render(
        request,
        "records/look.html",
        asker=asker,
        form=form,
        tree=tree,
        agents=choices.agents(session),
        bare=bare_words(frame(request).today, frame(request).zone),
    )


@router.post("/trees/{tree_id}/look")
async def post_look(request: Request, session: Read, asker: Looker, tree_id: UUID) -> Response:
    form = await read_form(request)

    async def save() -> tuple[str, str]:
        body = form.into(
            LookCreate,
            "kind",
            "result",
            "seen_on",
            "agent",
            "note",
            id=form.id("form_key"),
        )
        made = (await form.write(tree_actions.record_looks_at_tree, asker, tree_id, [body]))[0]
        if made.proposal:
            return (
                f"/stops/new?tree={tree_id}&reason={made.proposal.reason}&agent={quote(made.agent)}",
                made.proposal.why,
            )
        return f"/trees/{tree_id}", " ".join(["The look is in the record.", *made.warnings])

    return await submitted(
        request, form, save, lambda told: told, lambda: _look_form(request, session, asker, tree_id, form)
    )


def _opens(asker: Asker) -> frozenset[str]:
    """The kinds of things a lineage may lead to: other people's grafts and plants are not for every member."""
    wood = frozenset({"tree", "collection", "bundle"})
    return wood | {"graft", "plant"} if May.STICKS in asker.may else wood


# -- bundles -------------------------------------------------------------------------------------------------------


@router.get("/bundles/{bundle_id}")
def get_bundle(request: Request, session: Read, asker: Reader, bundle_id: UUID) -> Response:
    return _bundle_page(request, session, asker, bundle_id, Form(sticks=1))


def _holder_words(session: Read, asker: Asker, holder_id: UUID | None, *, with_names: bool) -> str:
    if holder_id is None or holder_id == asker.party_id:
        return "you" if holder_id else ""
    return member_queries.get_party(session, holder_id).name if with_names else "a member"


def _bundle_page(request: Request, session: Read, asker: Asker, bundle_id: UUID, form: Form) -> Response:
    bundle = bundle_queries.get_bundle(session, bundle_id, name_only=Everybody.NAMED)
    with_names = sees_people(asker.may)
    events = provenance_queries.timeline(session, bundle_id, with_names=with_names)
    children = bundle_queries.list_bundles(
        session, Paging(limit=50), parent_id=bundle_id, name_only=names_only(asker)
    )
    where = storage_queries.whereabouts(session, [bundle_id]).get(bundle_id)
    return render(
        request, "records/bundle.html", asker=asker, form=form, bundle=bundle, events=events, where=where,
        wood=collection_queries.get_collection(session, bundle.collection_id),
        holder=_holder_words(session, asker, bundle.holder_id, with_names=with_names),
        stopped_by=bundle_queries.stop_words(session, [bundle_id]).get(bundle_id, []) if bundle.stopped else [],
        children=children, lines=lines_for(request, session, children.items), kept=keeps_of(session, children.items),
        tags=tag_queries.list_tags_of(session, bundle_id),
        line=life_line_of(events, bundle, now=request.app.state.clock.now(), zone=frame(request).zone),
        picture=lineage_of(
            provenance_queries.trace_back(session, Thing.BUNDLE, bundle_id, with_names=False), focus=bundle_id, opens=_opens(asker)
        ),
        dormancy=collection_queries.cut_dormancy(session, bundle.collection_id),
        balance=bundle_queries.balance_of_collection(session, bundle.collection_id),
        bag=storage_queries.weighings_of(session, bundle_id),
        keeping=kept_keeping(session, bundle_id) if May.BUNDLE_CHECKS in asker.may else None,
    )  # fmt: skip


@router.post("/bundles/{bundle_id}/{act}")
async def post_act(request: Request, session: Read, asker: Sticker, bundle_id: UUID, act: str) -> Response:
    """Split, discard, cut to length, count, take back: one small form each on the bundle's page."""
    form = await read_form(request)
    known = {"bundle_id": bundle_id, "id": form.id("form_key")}

    async def save() -> str:
        match act:
            case "split":
                made = await form.write(
                    exchange_actions.split_bundles,
                    asker,
                    [form.into(SplitCreate, "sticks", "reason", **known)],
                )
                return f"Split: the new bundle is {made[0].bundle.code}; print its label."
            case "discard":
                await form.write(
                    bundle_actions.discard_sticks,
                    asker,
                    form.into(DiscardCreate, "sticks", "reason", **known),
                )
                return "Thrown away, and written down. Do not compost suspect wood."
            case "length":
                body = form.into(CutToLengthCreate, "sticks_before", "sticks_after", "length_mm", **known)
                await form.write(bundle_actions.cut_to_length, asker, body)
                return "Cut to length."
            case "count":
                await form.write(
                    bundle_actions.recount_bundle,
                    asker,
                    form.into(RecountCreate, "counted", "reason", **known),
                )
                return "The record follows your count."
            case "return":
                back = form.into(ReturnCreate, "reason", **known)
                await form.write(exchange_actions.return_bundle, asker, back)
                return "It is back with the club."
        raise NotFound("There is no such act on a bundle.")

    return await submitted(
        request, form, save, lambda words: (f"/bundles/{bundle_id}", words),
        lambda: _bundle_page(request, session, asker, bundle_id, form),
    )  # fmt: skip
