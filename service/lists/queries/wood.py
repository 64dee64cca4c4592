"""Rows of a list of wood that is kept, or that was handed on: cut from a tree of the record, or received from outside."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from service.collection.rules import Wood
from service.collection.schemas import CollectionCreate, ReceiptCreate
from service.lib.codes import group_code, parse_code
from service.lists.queries.boxes import BoxElsewhere, BoxTold, box_told, place_told, settle_box
from service.lists.queries.planning import MOST_TOLD, Around, CannotUse, Values, area_for, named, word_of
from service.lists.rules import RowState, fold_heading
from service.storage.schemas import PutAwayCreate
from service.tags.queries import match_known
from service.tags.rules.addresses import split_scanned
from service.tags.rules.words import explain_typed
from service.tags.schemas import BundlePart, LabelledCutCreate, LabelledReceiptCreate

_WOOD = {"dormant": Wood.DORMANT, "winter": Wood.DORMANT, "scionwood": Wood.DORMANT, "summer": Wood.SUMMER,
         "budwood": Wood.SUMMER, "summer budwood": Wood.SUMMER}  # fmt: skip
MEND = "Mend this cell in the file and send it again."


@dataclass(frozen=True)
class WoodRow:
    """One bundle: how it came, where it lies, and with whom it is where it was handed on."""

    line: int
    bundle_id: UUID
    at: datetime | None
    cut: LabelledCutCreate | None = None
    receipt: LabelledReceiptCreate | None = None
    put: PutAwayCreate | None = None
    holder_id: UUID | None = None
    child_id: UUID | None = None
    stands: BoxTold | None = None  # where it says that a new box stands

    @property
    def collection_id(self) -> UUID:
        if self.cut is not None:
            return self.cut.cut.id
        assert self.receipt is not None
        return self.receipt.receipt.id

    @property
    def needs(self) -> frozenset[UUID]:
        """People, areas, places and boxes that it rests on."""
        put = (self.put.place_id, self.put.into_box_id) if self.put is not None else ()
        area_id = self.receipt.receipt.area_id if self.receipt is not None else None
        return frozenset(one for one in (self.holder_id, area_id, *put) if one is not None)

    @property
    def sticks(self) -> int:
        return self.cut.cut.sticks if self.cut is not None else self.receipt.receipt.sticks  # type: ignore[union-attr]


def read_wood(around: Around, values: Values, line: int) -> RowState:
    """One bundle of wood. Raises `CannotUse`, `Asked`."""
    if not values.get("sticks"):
        raise CannotUse("sticks", "how many sticks is not told", MEND)
    tree_id = tree_told(around, values, "tree")
    if tree_id is None:
        row = _received(around, values, line)
    else:
        row = _cut(around, values, line, tree_id)
    if row.stands is not None:
        try:
            settle_box(around, values["box"], row.stands, line)
        except BoxElsewhere:
            around.plan.hanging.append(row)
            raise
    around.plan.wood.append(row)
    return RowState.TAKEN


def tree_told(around: Around, values: Values, name: str) -> UUID | None:
    """The tree of the record whose number or tag a row tells. Raises `CannotUse`."""
    if name not in values:
        return None
    told, known = str(values[name]), around.match.known
    number = known.trees.get(fold_heading(told).removeprefix("tree").replace(" ", ""))
    if number is not None:
        return number
    typed = parse_code(split_scanned(told)[1])
    if typed.code in known.tree_codes:
        return known.tree_codes[typed.code]
    near = [group_code(one) for one in typed.suggestions() if one in known.tree_codes]
    todo = "Write the number that the tree has in the record, or the code of its tag; leave it empty for wood from outside."
    words = f"; {near[0]} is one slip away" if len(near) == 1 else ""
    raise CannotUse(name, f"the record has no tree “{told[:40]}”{words}", todo)


def bundle_code(around: Around, values: Values, name: str) -> str | None:
    """The code of a tag as it is written; which bundle it is on is asked when the list is taken. Raises `MistypedCode`."""
    if name not in values:
        return None
    typed = parse_code(split_scanned(str(values[name]))[1])
    if typed.code is None:
        is_told = len(around.plan.report) < MOST_TOLD
        near = match_known(around.match.session, typed.suggestions()) if is_told else []
        raise explain_typed(typed, near, field=name)
    return typed.code


def moment(around: Around, values: Values, name: str) -> datetime | None:
    """Noon of a day that a row tells, never later than now. Raises `CannotUse`."""
    day: date | None = values.get(name)
    if day is None:
        return None
    if day > around.today:
        raise CannotUse(name, f"{day.isoformat()} has not come yet", MEND)
    try:
        noon = datetime.combine(day, time(12), ZoneInfo(around.zone)).astimezone(UTC)
    except OverflowError as error:
        raise CannotUse(name, f"{day.isoformat()} is no day that can be kept", MEND) from error
    return min(noon, around.now)


def _cut(around: Around, values: Values, line: int, tree_id: UUID) -> WoodRow:
    at = moment(around, values, "cut_on")
    if at is None:
        raise CannotUse("cut_on", "the day of the cut is not told", MEND)
    cultivar_id, note = None, values.get("note", "")
    if "variety" in values:
        taxon_id = around.match.known.tree_kinds.get(tree_id)
        cultivar_id = around.match.variety(values["variety"], taxon_id, line)
        if cultivar_id is None:
            note = "\n".join(filter(None, [note, f"In the old list: {values['variety']}"]))
    told = {name: values[name] for name in ("owner_agreed",) if name in values}
    cut = CollectionCreate(
        id=around.id_of(line, "collection"), tree_id=tree_id, sticks=values["sticks"], wood=_wood(values), cultivar_id=cultivar_id,
        done_at=at, already_cut=True, note=note, **told,
    )  # fmt: skip
    return _kept(
        around, values, line, at, cut=LabelledCutCreate(cut=cut, bundles=[_part(around, values, line)])
    )


def _received(around: Around, values: Values, line: int) -> WoodRow:
    taxon_id, cultivar_id, as_told = named(around, values, line)
    at = moment(around, values, "came_on") or moment(around, values, "cut_on")
    moment(around, values, "cut_on")
    giver_id = around.match.giver(values["from_whom"], line) if "from_whom" in values else None
    told: dict[str, Any] = {
        name: values[name]
        for name in ("their_reference", "health_paper", "tree_as_told", "note")
        if name in values
    }
    if giver_id is None and "from_whom" in values:
        told["from_whom"] = values["from_whom"]
    area_id = area_for(around, values, line) if "area" in values or giver_id is None else None
    receipt = ReceiptCreate(
        **told, id=around.id_of(line, "collection"), taxon_id=taxon_id, cultivar_id=cultivar_id, name_as_told=as_told,
        sticks=values["sticks"], wood=_wood(values), from_party_id=giver_id, area_id=area_id, cut_on=values.get("cut_on"), done_at=at,
    )  # fmt: skip
    parts = [_part(around, values, line)]
    return _kept(around, values, line, at, receipt=LabelledReceiptCreate(receipt=receipt, bundles=parts))


def _wood(values: Values) -> Wood:
    return word_of(_WOOD, values, "wood", "dormant, summer") or Wood.DORMANT


def _part(around: Around, values: Values, line: int) -> BundlePart:
    old = f"On the old label: {values['old_code']}" if "old_code" in values else ""
    return BundlePart(id=around.id_of(line, "bundle"), sticks=values["sticks"], note=old)


def _kept(around: Around, values: Values, line: int, at: datetime | None, **how: Any) -> WoodRow:
    bundle_id, child_id = around.id_of(line, "bundle"), None
    holder_id = around.match.person(values["holder"], line) if "holder" in values else None
    if holder_id is not None and {"store", "box"} & values.keys():
        raise CannotUse(
            "holder", "it is told both where it lies and who has it", "Leave one of the two empty."
        )
    if holder_id is not None:
        child_id = around.id_of(line, "handed on")
    put, stands = _put(around, values, line, bundle_id)
    return WoodRow(line, bundle_id, at, put=put, stands=stands, holder_id=holder_id, child_id=child_id, **how)


def _put(
    around: Around, values: Values, line: int, bundle_id: UUID
) -> tuple[PutAwayCreate | None, BoxTold | None]:
    store_id = around.match.store(values["store"], line) if "store" in values else None
    if store_id is None and "store" in values:
        todo = "Enter the store first, then read the list anew; or mend its name in the file."
        raise CannotUse("store", f"the record has no store called “{values['store'][:60]}”", todo)
    place_id = place_told(around, values, line, store_id)
    since = moment(around, values, "stored_on")
    told: dict[str, Any] = {"id": around.id_of(line, "put away"), "bundle_id": bundle_id, "done_at": since}
    if "box" in values:
        box_id, stands = box_told(around, values, line, store_id, place_id)
        return PutAwayCreate(**told, into_box_id=box_id), stands
    if place_id is not None:
        return PutAwayCreate(**told, place_id=place_id), None
    return (PutAwayCreate(**told, store_id=store_id) if store_id is not None else None), None
