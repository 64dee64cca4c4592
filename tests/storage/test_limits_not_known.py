"""Wood whose kind has no limits, beside wood whose kind has: the limits say how much they leave out."""

from __future__ import annotations

from dataclasses import replace
from uuid import uuid4

import pytest
from sqlalchemy import select
from sqlmodel import col

from service.catalogue.tables import Taxon
from service.collection.tables import Collection
from service.lib.write import insert_rows
from service.storage import queries
from service.storage.rules.excursions import ANY_SCIONS, Band
from tests.builders.garage import Garage
from tests.builders.storage import make_bundles, run

APPLE = (Band("apple", 0.0, 4.4, "published", ""),)


@pytest.mark.parametrize(
    ("bundles", "not_known", "says"),
    [(12, 3, "of 3 of 12 bundles nothing is known"), (1, 1, "of 1 of 1 bundle nothing is known"), (12, 0, ""), (0, 0, "")],
)  # fmt: skip
def test_what_the_limits_leave_out_is_said(bundles: int, not_known: int, says: str) -> None:
    limits = replace(ANY_SCIONS, bands=APPLE, bundles=bundles, not_known=not_known)

    assert limits.not_known_words.startswith(says)
    assert bool(limits.not_known_words) == bool(says)


def test_of_wood_beside_known_wood_it_is_told_how_many_bundles_have_no_limits(
    database, writer, clock
) -> None:
    garage = Garage(database, writer, clock)
    known = make_bundles(writer, garage.ground, 2)
    with database.reading() as session:
        before = queries.limits_of(session, known)
        other = _of_an_unknown_kind(writer, session, garage)
    with database.reading() as session:
        both = queries.limits_of(session, [*known, *other])
        alone = queries.limits_of(session, other)

    assert (before.bundles, before.not_known, before.not_known_words) == (2, 0, "")
    assert (both.bundles, both.not_known, both.groups) == (5, 3, before.groups)
    assert both.not_known_words.startswith("of 3 of 5 bundles nothing is known")
    assert (alone.not_known, alone.not_known_words, alone.kill10_mark != "") == (3, "", True)


def _of_an_unknown_kind(writer, session, garage):
    taxon = session.execute(select(Taxon).where(col(Taxon.species_group) == "apple")).scalars().first()
    cut = session.get(Collection, garage.ground.collection_id)
    kind = {
        **taxon.model_dump(),
        "id": uuid4(),
        "slug": "nowhere-plum",
        "botanical_name": "Prunus nowhere",
        "species_group": "",
        "eppo_code": "",
    }
    own = {**cut.model_dump(), "id": uuid4(), "number": 900, "taxon_id": kind["id"], "cultivar_id": None}
    run(writer, insert_rows, Taxon, [kind])
    run(writer, insert_rows, Collection, [own])
    return make_bundles(writer, garage.ground, 3, collection_id=own["id"])
