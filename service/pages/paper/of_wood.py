"""Sheets of the wood that is there: by shelf, for the hall, for wishes, and for who fetches theirs."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from sqlmodel import Session

from service.bundles import queries as bundle_queries
from service.bundles.schemas import BundleSummary
from service.catalogue import queries as catalogue_queries
from service.collection import queries as collection_queries
from service.lib.paging import EVERY
from service.members.rules import Everybody
from service.pages.paper.sheets import Big, Cell, Column, Group, Sheet, Ticks, code_words, short_day
from service.storage import queries
from service.storage.schemas import ContentRead

_THERE = Ticks(("there",))


def shelf_list(session: Session, store_id: UUID) -> Sheet:
    """What lies in a store by place and box, to be counted with a pencil."""
    page = queries.store_page(session, store_id)
    groups = []
    for place in page.places:
        if place.bundles:
            groups.append(Group(place.name or "Anywhere in it", [_lying(each) for each in place.bundles]))
        groups += [
            Group(f"{place.name} · {box.name}" if place.name else box.name, [_lying(each) for each in box.bundles] or [_nothing()])
            for box in place.boxes
        ]  # fmt: skip
    return Sheet(
        title=f"Shelf list · {page.store.name}",
        says="Tick what you find, count the sticks, note mould, wrinkles and swelling buds. Leave stopped wood where it lies.",
        columns=(
            Column("Bundle", "wide"), Column("Sticks", "narrow"), Column("Found"), Column("Counted", "narrow"), Column("Note", "wide"),
        ),
        groups=groups, top=(("Who counted", ""), ("Day", ""), ("Temperature", "")), spare=3, empty="It is empty.",
        back=(f"/store/{store_id}", "The store"), entered=("/store", "Enter looks and readings"),
    )  # fmt: skip


def _lying(each: ContentRead) -> tuple[Cell, ...]:
    code = code_words(each.code) or (
        f"flag of {code_words(each.parent_code)}" if each.parent_code else "no tag"
    )
    warns = ("STOPPED: leave it where it lies.",) if each.open_stops else ()
    under = (code, f"{each.kind}, cut {short_day(each.cut_on)}")
    return Big(each.variety, under, warns), str(each.on_hand), _THERE, None, None


def _nothing() -> tuple[Cell, ...]:
    return Big("nothing lies in it"), "0", _THERE, None, None


def _free(session: Session) -> dict[str, dict[tuple[str, UUID, UUID | None], list[BundleSummary]]]:
    """Bundles of the club with free sticks that nothing stops, by kind and by variety."""
    listed = bundle_queries.list_bundles(session, EVERY, of_club=True, on_hand=True, stopped=False).items
    free = [each for each in listed if each.free > 0]
    facts = bundle_queries.facts_for_bundles(session, [each.id for each in free])
    woods = collection_queries.facts_for_collections(session, {one.collection_id for one in facts.values()})
    found: dict[str, dict[tuple[str, UUID, UUID | None], list[BundleSummary]]] = {}
    for each in sorted(free, key=lambda one: (one.kind, one.page_name.casefold(), one.made_at)):
        wood = woods[facts[each.id].collection_id]
        found.setdefault(each.kind, {}).setdefault(
            (each.page_name, wood.taxon_id, wood.cultivar_id), []
        ).append(each)
    return found


def hall_list(session: Session) -> Sheet:
    """By kind and variety: what is there, how many sticks, and on which stocks it may be grafted."""
    free = _free(session)
    stocks = catalogue_queries.stocks_for_woods(
        session, [(taxon, variety) for varieties in free.values() for _, taxon, variety in varieties]
    )
    return Sheet(
        title="What is there",
        says="Take what you will graft, label it before you reach for the next, and tick what you took. Stopped wood is not listed.",
        columns=(Column("Variety", "wide"), Column("Sticks", "narrow"), Column("Other stocks", "wide"), Column("Taken", "wide")),
        groups=[
            _kind_in_hall(kind, [(name, bundles, stocks[taxon, variety]) for (name, taxon, variety), bundles in varieties.items()])
            for kind, varieties in free.items()
        ],
        empty="No wood is free to share.", back=("/paper", "Sheets"), entered=("/hand-over", "Enter what was taken"),
    )  # fmt: skip


def _kind_in_hall(kind: str, varieties: list[tuple[str, list[BundleSummary], list[str]]]) -> Group:
    """The stocks of most varieties stand once at the head of the kind; a variety tells only what is other with it."""
    usual = max((stocks for _, _, stocks in varieties), key=[stocks for _, _, stocks in varieties].count)
    return Group(
        kind, [_in_hall(name, bundles, stocks, usual) for name, bundles, stocks in varieties],
        under=f"May be grafted on {', '.join(usual)}." if usual else "On which stocks is not known: ask first.",
    )  # fmt: skip


def _in_hall(
    name: str, bundles: list[BundleSummary], stocks: list[str], usual: list[str]
) -> tuple[Cell, ...]:
    codes = ", ".join(code_words(each.code) for each in bundles if each.code)
    return Big(name, (codes,)), str(_sticks(bundles)), _other_stocks(stocks, usual), None


def _other_stocks(stocks: list[str], usual: list[str]) -> str:
    more, fewer = (
        [each for each in some if each not in rest] for some, rest in ((stocks, usual), (usual, stocks))
    )
    if not stocks and usual:
        return "not known: ask first"
    if len(fewer) > len(stocks):
        return f"only on {', '.join(stocks)}"
    told = [f"also on {', '.join(more)}" if more else "", f"not on {', '.join(fewer)}" if fewer else ""]
    return "; ".join(part for part in told if part)


def _sticks(bundles: Iterable[BundleSummary]) -> int:
    return sum(each.free for each in bundles)


def want_sheet(session: Session, name: str = "") -> Sheet:
    """One member's wishes: every variety that is there, with boxes for the order of wishes and for sticks."""
    return Sheet(
        title="What I want",
        says="1 for what you want most, 2 for the next. Ask for as many sticks as you will graft. A wish is no promise.",
        columns=(
            Column("Variety", "wide"), Column("Free", "narrow"), Column("My order", "narrow"), Column("Sticks", "narrow"),
            Column("Note", "wide"),
        ),
        groups=[
            Group(kind, [(Big(variety), str(_sticks(bundles)), None, None, None) for (variety, _, _), bundles in varieties.items()])
            for kind, varieties in _free(session).items()
        ],
        top=(("Name", name), ("Day", "")), spare=4, empty="No wood is free to share.",
    )  # fmt: skip


def pick_up(session: Session) -> Sheet:
    """By receiver: what was handed over in their name and still lies in one of the club's stores."""
    held = [
        each
        for each in bundle_queries.list_bundles(session, EVERY, on_hand=True, name_only=Everybody.NAMED).items
        if each.holder_id is not None
    ]
    lying = queries.whereabouts(session, [each.id for each in held])
    groups: dict[str, list[tuple[Cell, ...]]] = {}
    for each in sorted(held, key=lambda one: (one.holder_name or "", one.kind, one.page_name)):
        if each.id not in lying:
            continue
        where = lying[each.id]
        place = " · ".join(part for part in (where.store_name, where.place_name, where.box_name) if part)
        warns = ("STOPPED: nobody takes it.",) if each.stopped else ()
        wood = Big(each.page_name, (code_words(each.code) or "under its parent’s tag", each.kind), warns)
        groups.setdefault(each.holder_name or "", []).append(
            (wood, str(each.on_hand), place or "—", Ticks(("fetched",)), None)
        )
    return Sheet(
        title="To be fetched",
        says="What lies ready in somebody’s name. Let them see the tags; tick and have the name written.",
        columns=(
            Column("Bundle", "wide"), Column("Sticks", "narrow"), Column("Where it lies"), Column("Fetched"), Column("By whom", "wide"),
        ),
        groups=[Group(name, rows) for name, rows in groups.items()], top=(("Who stood there", ""), ("Day", "")),
        empty="Nothing lies ready in anybody’s name.",
    )  # fmt: skip
