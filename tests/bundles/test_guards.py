"""The database has the last word: each guard of the one statement that takes sticks, and each CHECK, asked alone."""

from __future__ import annotations

import pytest
from sqlalchemy.exc import IntegrityError

from service.bundles.actions import ledger
from service.bundles.rules import Counter, NoSuchBundle
from service.lib.database import Database
from service.lib.write import Writer
from tests.builders.bundles import make_bundle, make_cutting, read_bundle, tamper
from tests.infra.cast import Cast


@pytest.mark.parametrize(
    "meanwhile, sticks",
    [("version = version", 13), ("promised = 3", 10), ("claimed = 3", 10), ("open_stops = 1", 1)],
    ids=["gone", "promised", "claimed", "stopped"],
)
def test_what_changed_since_it_was_asked_about_is_not_taken(
    writer: Writer, database: Database, cast: Cast, monkeypatch: pytest.MonkeyPatch, meanwhile: str, sticks: int
) -> None:  # fmt: skip
    bundle = make_bundle(writer, cast.steward, make_cutting(writer, cast.steward))
    tamper(database, f"update bundle set {meanwhile}")
    monkeypatch.setattr(ledger, "check_takings", lambda *_: {})  # all was well when it was asked

    with pytest.raises(NoSuchBundle, match="changed while it was read"):
        writer.write_now(ledger.take_sticks, None, Counter.GRAFTED, {bundle.id: sticks})

    assert read_bundle(database, bundle.id).on_hand == 12


@pytest.mark.parametrize(
    "wrong",
    [
        "passed_on = -1", "grafted = -1", "discarded = -1", "promised = -1", "claimed = -1", "open_stops = -1", "came_in = -1",
        "passed_on = 13", "grafted = 13", "discarded = 13", "promised = 13", "claimed = 13", "promised = 7, claimed = 6",
    ],
)  # fmt: skip
def test_counters_that_cannot_be_are_refused_by_the_database(
    writer: Writer, database: Database, cast: Cast, wrong: str
) -> None:
    bundle = make_bundle(writer, cast.steward, make_cutting(writer, cast.steward))

    with pytest.raises(IntegrityError):
        tamper(database, f"update bundle set {wrong}")

    assert read_bundle(database, bundle.id).free == 12
