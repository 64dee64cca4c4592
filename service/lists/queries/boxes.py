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


@dataclass
class NewBox:
    """A box that the record does not have, and where its rows say that it stands."""

    body: BoxCreate
    stands: BoxKnown


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


def box_told(around: Around, values: Values, line: int, store_id: UUID | None, place_id: UUID | None) -> UUID:
    """The box of that name, where it stands as the row tells; made new where the record has none. Raises `CannotUse`."""
    known, name = around.match.known, values["box"]
    box = known.boxes.get(fold_heading(name))
    if box is None:
        body = BoxCreate(id=around.id_of(line, "box"), name=name)
        box = known.boxes[fold_heading(name)] = BoxKnown(body.id, None, None, line=line)
        around.plan.boxes[body.id] = NewBox(body, box)
    if store_id is None:
        return box.id
    if box.line and box.store_id is None:
        box.store_id, box.store_name, box.line = store_id, known.words[store_id], line
    if box.line and box.store_id == store_id and box.place_id is None and place_id is not None:
        box.place_id, box.place_name = place_id, values["place"]
    _check_stands(box, name, store_id, place_id)
    return box.id


def _check_stands(box: BoxKnown, name: str, store_id: UUID, place_id: UUID | None) -> None:
    """Raises `CannotUse` where a box stands elsewhere than a row tells: it is another box, or it was carried on."""
    is_there = box.store_id == store_id and (
        place_id is None or box.place_id == place_id or box.place_name == ANYWHERE
    )
    if is_there:
        return
    if box.line:
        words, todo = (
            f"by line {box.line} the box “{name}” stands elsewhere",
            "Mend one of the two in the file.",
        )
    else:
        where = " · ".join(one for one in (box.store_name, box.place_name) if one) or "in no store"
        words = f"the box “{name}” of the record stands {'' if not box.store_id else 'elsewhere: '}{where}"
        todo = "Put the box where it stands by the list, or give it another name in the file, then load this page again."
    raise CannotUse("box", words, todo)
