"""Sheets for who walks past the trees of a site: the round in leaf and in fruit, and the cut."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.collection import queries as collection_queries
from service.lib.clock import local_day
from service.pages.paper.sheets import Big, Cell, Column, Group, Sheet, Ticks, short_day, without_contacts
from service.trees import queries
from service.trees.rules import MayCut, TreeFacts, not_seen_words
from service.trees.schemas import SiteRead, TreeOnRound

_HEALTHY = Ticks(("healthy", "symptom", "not seen"))
_TRUE = Ticks(("true", "wrong", "not seen"))
_BUDS = Ticks(("tight", "swelling", "green"))


def _site(site: SiteRead) -> tuple[tuple[str, str], ...]:
    told = (
        ("Who opens the gate", without_contacts(site.gate)),
        ("The way there", without_contacts(site.directions)),
    )
    return (*(pair for pair in told if pair[1]), ("Who walked", ""), ("Day", ""))


def round_sheet(session: Session, site_id: UUID, now: datetime, zone: str) -> Sheet:
    """Every tree of a site in walking order, with boxes for what is seen of leaf and fruit."""
    walk = queries.site_round(session, site_id, local_day(now, zone))
    return Sheet(
        title=f"Round · {walk.site.name}",
        says="Does it look healthy in leaf? Does it bear the fruit of its name? A symptom: cut nothing, tell the health steward.",
        columns=(
            Column("No.", "narrow"), Column("Tree", "wide"), Column("In leaf"), Column("In fruit"), Column("What you saw", "wide"),
        ),
        groups=[Group("", [_on_round(tree) for tree in walk.trees])],
        top=_site(walk.site), spare=3, empty="No tree stands here yet.", back=(f"/sites/{site_id}", "The site"),
        entered=(f"/sites/{site_id}/round/leaf", "Enter the round"),
    )  # fmt: skip


def _on_round(tree: TreeOnRound) -> tuple[Cell, ...]:
    seen = [
        f"last seen in {word} {short_day(look.seen_on)}: {str(look.result).replace('_', ' ')}"
        for word, look in (("leaf", tree.last_leaf_check), ("fruit", tree.last_fruit_check))
        if look is not None
    ]
    never = [] if tree.last_leaf_check else ["never seen in leaf"]
    under = (f"{tree.kind}, {tree.where_on_site}" if tree.where_on_site else tree.kind, *never, *seen)
    warns = tuple(f"STOPPED: {stop.words}. Cut nothing." for stop in tree.stops)
    return str(tree.number), Big(tree.page_name, under, warns), _HEALTHY, _TRUE, None


def cut_sheet(session: Session, site_id: UUID, now: datetime, zone: str) -> Sheet:
    """The trees of a site that may be cut, at most how many sticks, and empty columns for what was cut."""
    today = local_day(now, zone)
    walk = queries.site_round(session, site_id, today)
    offered = collection_queries.trees_to_cut(session, [tree.id for tree in walk.trees], now, zone)
    rows = [_to_cut(*offered[tree.id], tree, today) for tree in walk.trees if tree.id in offered]
    left_out = len(walk.trees) - len(rows)
    leave = (
        f" {left_out} other {'tree is' if left_out == 1 else 'trees are'} not to be cut: leave what is not listed."
        if left_out
        else ""
    )
    return Sheet(
        title=f"Cut list · {walk.site.name}",
        says=f"Disinfect before each tree. Label as you cut, one variety at a time.{leave}",
        columns=(
            Column("No.", "narrow"), Column("Tree", "wide"), Column("At most", "narrow"), Column("Tag"), Column("Sticks", "narrow"),
            Column("Buds"), Column("Time", "narrow"),
        ),
        groups=[Group("", rows)], top=_site(walk.site), spare=2, empty="No tree of this site may be cut now.",
        back=(f"/sites/{site_id}", "The site"), entered=(f"/cut/from-paper?site={site_id}", "Enter a pencilled cut list"),
    )  # fmt: skip


def _to_cut(tree: TreeFacts, left: int | None, met: TreeOnRound, today: date) -> tuple[Cell, ...]:
    seen = not_seen_words(tree.last_leaf_check.seen_on if tree.last_leaf_check else None, today)
    ask = ("ask the owner first, and note how they agreed",) if tree.may_cut is MayCut.ASK else ()
    where = f"{met.kind}, {met.where_on_site}" if met.where_on_site else met.kind
    most = "no limit" if left is None else str(left)
    return (
        str(tree.number),
        Big(tree.name, (where, *ask), (seen,) if seen else ()),
        most,
        None,
        None,
        _BUDS,
        None,
    )
