"""The page about back-ups, and the start page that reminds of them."""

from __future__ import annotations

from datetime import timedelta

from service.members.actions import note_backup
from service.members.rules import Role
from tests.builders.bundles import make_bundle, make_cutting
from tests.builders.members import make_asker


def test_the_back_up_page_says_how_old_the_last_one_is_and_the_start_page_reminds(as_, writer, clock) -> None:
    office = as_(Role.ADMINISTRATOR)
    steward = make_asker(writer, Role.STEWARD, Role.COLLECTOR)
    make_bundle(writer, steward, make_cutting(writer, steward))
    assert "Nobody has backed this record up yet" in office.get("/club/back-up").text
    assert "Nobody has backed this record up yet" in office.get("/").text
    at = clock.now()
    writer.write_now(note_backup, None, at)
    assert "Backed up today" in office.get("/club/back-up").text
    assert "/club/back-up" not in office.get("/").text
    clock.move(timedelta(days=1))
    assert "Backed up yesterday" in office.get("/club/back-up").text
    clock.move(timedelta(days=8))

    page = office.get("/club/back-up").text

    assert "The last back-up is 9 days old" in page
    assert "python -m service backup" in page
    assert "The last back-up is 9 days old" in office.get("/").text
    assert as_(Role.STEWARD).get("/club/back-up").status_code == 403
