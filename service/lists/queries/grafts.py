"""Rows of a list of grafts: of wood of the record by its code, or of wood that is taken in with them and was used up."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from service.collection.schemas import ReceiptCreate
from service.grafting.schemas import GraftCreate, GraftWoodCreate, PlantCreate, TakeCheckCreate
from service.lists.queries.planning import Around, CannotUse, Values, area_for, named
from service.lists.queries.trees import site_told, stock_told
from service.lists.queries.wood import MEND, bundle_code, moment, tree_told
from service.lists.rules import RowState, fold_heading
from service.tags.schemas import BundlePart, LabelledReceiptCreate

MOST = 1000
FROM_NOBODY = "not told in the list of grafts"
ENTERED_WITH = "Taken in with an old list of grafts: this wood was used up before it was in the record."
_NONE_TOOK = {"no", "n", "failed", "none", "dead", "nein", "non", "not"}
_ALL_TOOK = {"yes", "y", "took", "all", "alive", "ja", "oui", "x"}
_NOT_JUDGED = {"", "not judged", "unknown", "not yet", "open", "waiting"}
_OF = re.compile(r"(\d{1,4})\s*(?:of|/|out of)\s*(\d{1,4})")


@dataclass(frozen=True)
class GraftRow:
    """Grafts of one row, the wood that is taken in for them, who made them, and whether they took."""

    line: int
    graft: GraftCreate
    by_id: UUID | None
    receipt: LabelledReceiptCreate | None = None
    bundle_id: UUID | None = None
    look: TakeCheckCreate | None = None

    @property
    def needs(self) -> frozenset[UUID]:
        """People, areas and sites that it rests on."""
        area_id = self.receipt.receipt.area_id if self.receipt is not None else None
        needs = (self.by_id, self.graft.holder_id, self.graft.site_id, area_id)
        return frozenset(one for one in needs if one is not None)


def read_graft(around: Around, values: Values, line: int) -> RowState:
    """Grafts made at one time of one wood on one sort of stock. Raises `CannotUse`, `Asked`."""
    at = moment(around, values, "done_on")
    if at is None:
        raise CannotUse("done_on", "the day of grafting is not told", MEND)
    grafts = values.get("grafts", 1)
    if not 1 <= grafts <= MOST:
        raise CannotUse("grafts", f"{grafts} grafts are not between 1 and {MOST}", MEND)
    taxon_id, cultivar_id, as_told = _wood_named(around, values, line)
    receipt = (
        None if "code" in values else _receipt(around, values, line, at, (taxon_id, cultivar_id, as_told))
    )
    bundle_id = around.id_of(line, "bundle") if receipt is not None else None
    graft = GraftCreate(
        id=around.id_of(line, "graft"), grafts=grafts, done_at=at, method=_method(around, values), with_tags=False,
        woods=[GraftWoodCreate(bundle_id=bundle_id, code=bundle_code(around, values, "code"), sticks=_sticks(values, grafts))],
        plants=_plants(around, values, line, grafts),
        holder_id=around.match.person(values["holder"], line) if "holder" in values else None,
        site_id=site_told(around, values, line) if "site" in values else None, note=_note(around, values),
        **_stock(around, values, taxon_id),
    )  # fmt: skip
    by_id = around.match.person(values["by_whom"], line) if "by_whom" in values else None
    look = _look(around, values, line, graft)
    around.plan.grafts.append(GraftRow(line, graft, by_id, receipt, bundle_id, look))
    return RowState.TAKEN


def _wood_named(around: Around, values: Values, line: int) -> tuple[UUID | None, UUID | None, str]:
    """Kind, variety and name; wood of the record brings its own."""
    if "code" in values:
        return None, None, ""
    return named(around, values, line)


def _sticks(values: Values, grafts: int) -> int:
    return int(values.get("sticks", grafts))


def _receipt(
    around: Around, values: Values, line: int, at: datetime, name: tuple[Any, Any, str]
) -> LabelledReceiptCreate:
    giver_id = around.match.giver(values["from_whom"], line) if "from_whom" in values else None
    sticks = _sticks(values, values.get("grafts", 1))
    if not sticks:
        raise CannotUse("sticks", "no stick is told for wood that is not in the record", MEND)
    receipt = ReceiptCreate(
        id=around.id_of(line, "collection"), taxon_id=name[0], cultivar_id=name[1], name_as_told=name[2], sticks=sticks,
        from_party_id=giver_id, from_whom="" if giver_id else values.get("from_whom", FROM_NOBODY), done_at=at, note=ENTERED_WITH,
        area_id=area_for(around, values, line) if "area" in values or giver_id is None else None,
    )  # fmt: skip
    return LabelledReceiptCreate(
        receipt=receipt, bundles=[BundlePart(id=around.id_of(line, "bundle"), sticks=sticks)]
    )


def _method(around: Around, values: Values) -> str:
    return around.match.known.methods.get(fold_heading(values.get("method", "")), "")


def _note(around: Around, values: Values) -> str:
    method = values.get("method", "")
    told = [
        values.get("note", ""),
        "" if _method(around, values) or not method else f"Method in the old list: {method}",
    ]
    number = f"Number in the old list: {values['their_number']}" if "their_number" in values else ""
    return "\n".join(one for one in (*told, number) if one)


def _stock(around: Around, values: Values, taxon_id: UUID | None) -> dict[str, Any]:
    tree_id = tree_told(around, values, "stock_tree")
    if tree_id is not None:
        return {"stock_tree_id": tree_id}
    if "stock" not in values:
        raise CannotUse(
            "stock",
            "on what it was grafted is not told",
            "Tell the rootstock, or the tree that was worked over.",
        )
    stock_id, words = stock_told(around.match.known, values["stock"], taxon_id)
    return {"rootstock_id": stock_id} if stock_id else {"stock_as_told": words}


def _plants(around: Around, values: Values, line: int, grafts: int) -> list[PlantCreate]:
    if "stock_tree" in values:
        if values.get("plants"):
            raise CannotUse(
                "plants", "grafts on a standing tree make no new plant", "Leave one of the two empty."
            )
        return []
    count = values.get("plants", grafts)
    if count > grafts:
        raise CannotUse("plants", f"{count} plants are more than {grafts} grafts", MEND)
    return [
        PlantCreate(id=around.id_of(line, f"plant {number}"), note=values.get("where", ""))
        for number in range(count)
    ]


def _too_many_took(values: Values, alive: int, looked_at: int, grafts: int) -> CannotUse:
    told = f"{alive} of {looked_at}"
    if "grafts" in values:
        made = f"{grafts} {'graft was' if grafts == 1 else 'grafts were'} made"
        return CannotUse("took", f"{told} cannot have taken where {made}", MEND)
    words = f"{told} cannot have taken of one graft: no column tells how many were made, so one is meant"
    return CannotUse("took", words, "Choose the column “How many”, or fill this row’s cell of it.")


def _look(around: Around, values: Values, line: int, graft: GraftCreate) -> TakeCheckCreate | None:
    told = str(values.get("took", "")).lower().strip()
    if told in _NOT_JUDGED:
        return None
    of = _OF.fullmatch(told)
    looked_at = int(of[2]) if of else graft.grafts
    if of or told.isdigit():
        alive = int(of[1] if of else told)
    elif told in _ALL_TOOK | _NONE_TOOK:
        alive = graft.grafts if told in _ALL_TOOK else 0
    else:
        words = f"“{told[:40]}” is no count, no “3 of 5”, and none of: yes, no, not judged"
        raise CannotUse("took", words, MEND)
    if alive > looked_at or looked_at > graft.grafts or not looked_at:
        raise _too_many_took(values, alive, looked_at, graft.grafts)
    seen_on: date | None = values.get("judged_on")
    if seen_on is not None and seen_on > around.today:
        raise CannotUse("judged_on", f"{seen_on.isoformat()} has not come yet", MEND)
    note = "" if seen_on else "As an old list tells it, which does not say when it was judged."
    return TakeCheckCreate(
        id=around.id_of(line, "look"), graft_id=graft.id, alive=alive, looked_at=looked_at, is_verdict=True,
        seen_on=seen_on or around.today, note=note,
    )  # fmt: skip
