"""Rows of a list of trees."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from service.lists.queries.known import Known, stock_word
from service.lists.queries.planning import Around, CannotUse, KnownAlready, Values, area_for, named, word_of
from service.lists.rules import RowState, ThingKind, fold_heading
from service.trees.rules import Identity, MayCut, check_planted_year
from service.trees.schemas import SiteCreate, TreeCreate

_MAY = {"yes": MayCut.YES, "y": MayCut.YES, "ask": MayCut.ASK, "ask first": MayCut.ASK, "please ask": MayCut.ASK, "no": MayCut.NO,
        "n": MayCut.NO, "ja": MayCut.YES, "nein": MayCut.NO, "oui": MayCut.YES, "non": MayCut.NO}  # fmt: skip
_IDENTITY = {fold_heading(one.value): one for one in Identity}


def read_tree(around: Around, values: Values, line: int) -> RowState:
    """One tree, with its site and its owner, made new where nobody knew them. Raises `CannotUse`, `Asked`."""
    _check_not_twice(around, values, line)
    taxon_id, cultivar_id, as_told = named(around, values, line)
    check_planted_year(values.get("planted_year"), around.today)
    stock_id, on_words = stock_told(around.match.known, values.get("rootstock", ""), taxon_id)
    between_id, between = stock_told(around.match.known, values.get("interstem", ""), taxon_id)
    told: dict[str, Any] = {
        name: values[name]
        for name in ("where_on_site", "most_sticks", "planted_year", "no_propagation_contract", "rights_note", "provisional")
        if name in values
    }  # fmt: skip
    words = [values.get("stands_on", ""), on_words, f"interstem {between}" if between else ""]
    number = f"Number in the old list: {values['their_number']}" if "their_number" in values else ""
    tree = TreeCreate(
        **told, id=around.id_of(line, "tree"), site_id=site_told(around, values, line), taxon_id=taxon_id, cultivar_id=cultivar_id,
        name_as_told=values.get("name_as_told", "") or as_told,
        owner_id=around.match.person(values["owner"], line) if "owner" in values else None,
        may_cut=word_of(_MAY, values, "may_cut", "yes, ask or no") or MayCut.ASK,
        identity=word_of(_IDENTITY, values, "identity", ", ".join(_IDENTITY)), rootstock_id=stock_id, interstem_id=between_id,
        stands_on="; ".join(filter(None, words)), note="\n".join(filter(None, [values.get("note", ""), number])),
    )  # fmt: skip
    around.plan.trees.append(tree)
    around.plan.made.append((ThingKind.TREE, tree.id, line))
    return RowState.TAKEN


def _check_not_twice(around: Around, values: Values, line: int) -> None:
    """A row that tells the very same as one above is the same tree, where it has a number or a place of its own."""
    if not {"their_number", "where_on_site"} & values.keys():
        return  # five trees of one variety in a row are five trees
    told = tuple(sorted(values.items(), key=lambda one: one[0]))
    first = around.told.setdefault(told, line)
    if first != line:
        raise KnownAlready("their_number", f"it tells the very same as line {first}")


def stock_told(known: Known, name: str, taxon_id: UUID | None) -> tuple[UUID | None, str]:
    """A stock of the list, or its words where the list has none or several of that name."""
    if not name:
        return None, ""
    found = known.stocks.get(stock_word(name), [])
    of_kind = [stock for stock, kind in found if kind == taxon_id] or [stock for stock, _ in found]
    return (of_kind[0], "") if len(of_kind) == 1 else (None, name)


def site_told(around: Around, values: Values, line: int) -> UUID:
    if "site" not in values:
        if around.form.site_id is None:
            raise CannotUse(
                "site", "its site is not told", "Choose a column for the site, or the site of the rest."
            )
        return around.form.site_id
    area_id = area_for(around, values, line)
    site_id = around.match.site(values["site"], line)
    if site_id not in around.match.known.words and site_id not in around.planned:
        area_id = area_id or around.match.area_of_site(values["site"], line)
        if area_id is None:
            raise CannotUse(
                "area",
                "the plant-health area of its site is not told",
                "Choose a column for it, or the area of the rest.",
            )
        around.planned.add(site_id)
        around.plan.sites.append(
            SiteCreate(
                id=site_id,
                name=around.match.name_of_new("site", site_id),
                region=values.get("region", ""),
                area_id=area_id,
            )
        )
        around.plan.made.append((ThingKind.SITE, site_id, line))
    return site_id
