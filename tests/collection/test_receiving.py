"""Wood from outside."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest

from service.catalogue.rules import NoSuchStage, ProtectedVariety
from service.collection import actions
from service.collection.rules import (
    CutAfterItCame,
    OriginNotKnown,
)
from service.collection.schemas import ReceiptCreate
from service.lib.clock import InTheFuture
from service.lib.database import Database
from service.lib.errors import Problem, Unusable
from service.lib.write import Writer
from service.members.rules import CrossesArea, UnknownArea
from service.trees.rules import NotItsKind
from tests.builders.collection import (
    TODAY,
    count_collections,
    read_collection,
    receive,
    set_area,
    words,
)
from tests.builders.members import make_permit
from tests.builders.trees import Orchard
from tests.infra.cast import Cast
from tests.infra.statements import Statements


def test_wood_from_another_area_is_taken_in_with_the_authoritys_answer_only(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)

    with pytest.raises(CrossesArea):
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id)
    with pytest.raises(OriginNotKnown):
        receive(writer, cast.collector, orchard, area_id=None)
    make_permit(writer, cast.health_steward, orchard.other_area_id, orchard.area_id, genus="Malus")
    assert (
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id).area_id
        == orchard.other_area_id
    )
    with pytest.raises(CrossesArea):
        receive(writer, cast.collector, orchard, area_id=orchard.other_area_id, taxon_id=orchard.fig_id)
    assert count_collections(database) == 1


def test_a_receipt_keeps_what_was_told(
    writer: Writer, cast: Cast, orchard: Orchard, database: Database
) -> None:
    set_area(writer, cast.collector.party_id, orchard.area_id)
    set_area(writer, cast.guest_id, orchard.area_id)

    made = receive(
        writer, cast.collector, orchard, 12, area_id=None, from_party_id=cast.guest_id, their_reference="HF-204", health_paper="none",
        tree_as_told="the old one by the well", cut_on=date(2026, 1, 20), stage="00",
    )  # fmt: skip

    assert (made.kind, made.sticks, made.cut_on, made.cut_on_guessed) == (
        "receipt",
        12,
        date(2026, 1, 20),
        False,
    )
    assert (made.area_id, made.unfinished, made.missing) == (orchard.area_id, False, [])  # the giver's area
    assert read_collection(database, made.id) == made and made.from_whom


def test_what_nobody_told_of_a_receipt_waits_and_its_day_is_marked_as_a_guess(
    writer: Writer, cast: Cast, orchard: Orchard
) -> None:
    made = receive(writer, cast.collector, orchard, taxon_id=orchard.pear_id, area_id=None)

    assert (made.cut_on, made.cut_on_guessed, made.page_name) == (TODAY, True, "no name known")
    assert made.missing == [
        "from",
        "area_id",
        "their_reference",
        "health_paper",
        "tree_as_told",
        "cut_on",
        "name",
    ]
    assert words(made) == {"no_health_paper", "unnamed"}


@pytest.mark.parametrize(
    "told, problem",
    [
        ({"cut_on": date(2026, 2, 15)}, CutAfterItCame), ({"cultivar_id": uuid4()}, Unusable), ({"taxon_id": uuid4()}, Unusable),
        ({"from_party_id": uuid4()}, Unusable), ({"area_id": uuid4()}, UnknownArea), ({"cultivar_id": "protected"}, ProtectedVariety),
        ({"taxon_id": "fig", "cultivar_id": "gala"}, NotItsKind), ({"taxon_id": None}, Unusable), ({"stage": "02"}, NoSuchStage),
        ({"done_at": datetime(2026, 2, 14, 10, 11, tzinfo=UTC)}, InTheFuture),
    ],
)  # fmt: skip
def test_a_receipt_that_cannot_be_is_refused(
    writer: Writer,
    cast: Cast,
    orchard: Orchard,
    database: Database,
    told: dict[str, Any],
    problem: type[Problem],
) -> None:
    named = {
        name: getattr(orchard, f"{value}_id") if isinstance(value, str) and name != "stage" else value
        for name, value in told.items()
    }

    with pytest.raises(problem):
        receive(writer, cast.collector, orchard, **named)

    assert count_collections(database) == 0


def test_twenty_receipts_cost_no_more_statements_than_one(
    writer: Writer, cast: Cast, orchard: Orchard, statements: Statements
) -> None:
    def body(count: int) -> list[ReceiptCreate]:
        kept = {
            "sticks": 3,
            "cultivar_id": orchard.gala_id,
            "area_id": orchard.area_id,
            "from_party_id": cast.guest_id,
        }
        return [ReceiptCreate(**kept) for _ in range(count)]

    set_area(writer, cast.collector.party_id, orchard.area_id)
    with statements.at_most(7):
        writer.write_now(actions.record_receipts, cast.collector, body(1))
    with statements.at_most(7):
        writer.write_now(actions.record_receipts, cast.collector, body(20))
