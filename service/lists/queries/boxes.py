"""Places and boxes that a list of wood names: those of the record where they stand, else new ones."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from sqlalchemy import and_, select
from sqlmodel import Session, col

from service.lists.queries.known import BoxKnown, Known
from service.lists.queries.planning import Around, CannotUse, Values
from service.lists.rules import fold_heading
from service.storage.rules import ANYWHERE
from service.storage.schemas import BoxCreate, PlaceCreate
from service.storage.tables import Box, Place, Stay, Store

OTHER_BOX = (
    "Give it another name in the list if it is another box. Only if it is this one, and stands today where the list has it,"
    " put it there on its own page, then read the list anew."
)


@dataclass(frozen=True)
class BoxTold:
    """Where a row says that a new box stands."""

    box_id: UUID
    store_id: UUID
    place_id: UUID | None

    def agrees(self, store_id: UUID | None, place_id: UUID | None) -> bool:
        """Whether it can stand so as well; a place that is not told agrees with every place of its store."""
        return store_id is None or (
            store_id == self.store_id and (None in (place_id, self.place_id) or place_id == self.place_id)
        )


class BoxElsewhere(CannotUse):
    """By a row above a new box stands elsewhere: whether it does is known once that row is in the record."""


def read_boxes(session: Session, known: Known) -> None:
    """Boxes by name, with where each stands now; one statement."""
    columns = (Box.id, Box.name, Place.store_id, Stay.place_id, Place.name, Store.name)
    stands = and_(col(Stay.box_id) == col(Box.id), col(Stay.until_at).is_(None))
    rows = session.execute(
        select(*columns)  # type: ignore[call-overload]
        .select_from(Box)
        .outerjoin(Stay, stands)
        .outerjoin(Place, col(Place.id) == col(Stay.place_id))
        .outerjoin(Store, col(Store.id) == col(Place.store_id))
    )
    for box_id, name, store_id, place_id, place, store in rows:
        known.boxes[fold_heading(name)] = BoxKnown(box_id, store_id, place_id, store or "", place or "")


def place_told(around: Around, values: Values, line: int, store_id: UUID | None) -> UUID | None:
    """The place of a store that a row tells, made new where the store has none of that name. Raises `CannotUse`."""
    if "place" not in values:
        return None
    if store_id is None:
        raise CannotUse("place", "a place is told, but not its store", "Tell the store in a column too.")
    key = (store_id, fold_heading(values["place"]))
    if key not in around.match.known.places:
        place = PlaceCreate(id=around.id_of(line, "place"), store_id=store_id, name=values["place"])
        around.match.known.places[key] = place.id
        around.plan.places[place.id] = place
    return around.match.known.places[key]


def box_told(
    around: Around, values: Values, line: int, store_id: UUID | None, place_id: UUID | None
) -> tuple[UUID, BoxTold | None]:
    """The box of that name, made new where the record has none, and where the row says that a new one stands.

    Raises `CannotUse` where a box of the record stands elsewhere.
    """
    known, name = around.match.known, values["box"]
    box = known.boxes.get(fold_heading(name))
    if box is None:
        body = BoxCreate(id=around.id_of(line, "box"), name=name)
        box = known.boxes[fold_heading(name)] = BoxKnown(body.id, None, None, line=line)
        around.plan.boxes[body.id] = body
    if store_id is None:
        return box.id, None
    if box.line:
        return box.id, BoxTold(box.id, store_id, place_id)
    _check_stands(around, box, values, line, store_id)
    return box.id, None


def settle_box(around: Around, name: str, told: BoxTold, line: int) -> None:
    """A new box stands where the first sound row says. Raises `BoxElsewhere` where another row says so."""
    box = around.match.known.boxes[fold_heading(name)]
    if not told.agrees(box.store_id, box.place_id):
        spoken = box.line if box.store_id != told.store_id else box.told_line
        words = f"by line {spoken} the box “{name}” stands elsewhere"
        raise BoxElsewhere("box", words, "Mend one of the two in the file.")
    if box.store_id is None:
        box.store_id, box.line = told.store_id, line
    if box.place_id is None and told.place_id is not None:
        box.place_id, box.told_line = told.place_id, line


def _check_stands(around: Around, box: BoxKnown, values: Values, line: int, store_id: UUID) -> None:
    """Raises `CannotUse` where a box of the record stands elsewhere than a row tells: it is another one, or was carried on.

    An old list does not move what the record knows to be in that store; the place that it tells is told to whoever looks.
    """
    name, place = values["box"], values.get("place", "")
    is_vague = box.store_id == store_id and box.place_name == ANYWHERE
    if box.store_id == store_id and is_vague and place:
        if not box.told_place:
            box.told_place, box.told_line = place, line
            words = f"the list has the box “{name}” on “{place}”; the record has it anywhere in {box.store_name}, and leaves it so"
            around.plan.remark(
                line,
                around.columns.get("place", ""),
                words,
                "If it stands there today, put it there on its own page.",
            )
        elif fold_heading(box.told_place) != fold_heading(place):
            words = f"by line {box.told_line} the box “{name}” stands on another place: {box.told_place}"
            raise CannotUse("box", words, "Mend one of the two in the file.")
    if box.store_id == store_id and (
        is_vague or not place or fold_heading(place) == fold_heading(box.place_name)
    ):
        return
    where = " · ".join(one for one in (box.store_name, box.place_name) if one) or "in no store"
    words = f"the box “{name}” of the record stands {'' if not box.store_id else 'elsewhere: '}{where}"
    raise CannotUse("box", words, OTHER_BOX)
