"""Files that are read for a page: off the event loop, which all others wait for, and not too many at once."""

from __future__ import annotations

import asyncio

import pytest

from service.lib.turns import FILES
from service.lists import queries as lists
from service.members.rules import Role
from service.storage import queries as storage
from service.trees import queries as trees
from tests.bad_input.desk import PAGE, words_of
from tests.builders.members import make_asker
from tests.builders.storage import make_ground, make_store
from tests.builders.trees import make_orchard
from tests.pages import test_lists_refused, test_loggers, test_site_air_files
from tests.pages.desk import fresh, opened, read, send

LOOKS = {
    "air": (trees, "look_at_air_file"),
    "logger": (storage, "look_at_file"),
    "list": (lists, "look_at_list"),
}


@pytest.fixture
def steward(as_):
    return as_(Role.STEWARD, Role.HOST)


@pytest.fixture
def bring(writer, steward):
    """A file of some sort that waits: where its page is."""

    def one(sort: str) -> str:
        if sort == "air":
            site = f"/sites/{make_orchard(writer, make_asker(writer, Role.STEWARD)).site_id}"
            return test_site_air_files.sent(steward, site, test_site_air_files.FILE.encode()).headers[
                "location"
            ]
        if sort == "list":
            return test_lists_refused.sent(steward, test_lists_refused.TABLE + "Gala,Apple,6,2026-01-17,,\n")
        logger = test_loggers.add_logger(steward, make_store(writer, make_ground(writer)))
        return test_loggers.send_file(steward, logger, test_loggers.FILE)

    return one


@pytest.fixture
def looks(monkeypatch):
    """For each look at a file, whether the event loop waited for it."""
    seen: list[bool] = []

    def watched(sort: str) -> list[bool]:
        of, name = LOOKS[sort]
        look = getattr(of, name)

        def wrapped(*told, **more):
            try:
                asyncio.get_running_loop()
            except RuntimeError:
                seen.append(False)
            else:
                seen.append(True)
            return look(*told, **more)

        monkeypatch.setattr(of, name, wrapped)
        return seen

    return watched


@pytest.mark.parametrize("sort", LOOKS)
def test_the_page_of_a_refused_form_reads_its_file_off_the_event_loop(steward, bring, looks, sort) -> None:
    path = bring(sort)
    form = {**opened(steward, path), "column.variety": "no such heading", "where_differing": "whatever"}
    seen = looks(sort)

    refused = send(steward, f"{path}/{'form' if sort == 'list' else 'take'}", form)

    assert refused.status_code == 422, words_of(refused)
    assert seen == [False]


@pytest.mark.parametrize("sort", ["air", "logger"])
def test_where_too_many_files_are_read_it_is_said_and_nothing_is_lost(
    steward, bring, monkeypatch, sort
) -> None:
    path = bring(sort)
    form = fresh(read(steward, path))

    with monkeypatch.context() as full:
        full.setattr(FILES, "_most", 0)
        page = steward.get(path, headers=PAGE)
        taken = send(steward, f"{path}/take", form)

    assert (page.status_code, taken.status_code) == (429, 429)
    assert "Too many files are being read at this moment." in words_of(page)
    assert read(steward, path).status_code == 200
