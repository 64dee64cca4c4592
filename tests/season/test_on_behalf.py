"""What is done for somebody else says so, whatever it is: who did it, and for whom, in every table that keeps the two."""

from __future__ import annotations

from collections.abc import Iterator

import httpx
import pytest
from anyio.from_thread import BlockingPortal
from sqlalchemy import select

import service.migrations.tables  # noqa: F401  (every stage's tables)
from service.lib.database import metadata
from tests.season import plausible
from tests.season.filled_club import FilledClub, filled_club

TABLES = [table for table in metadata.sorted_tables if {"by_party_id", "for_party_id"} <= set(table.c.keys())]

# What no route of the API writes, and the form that does.
BY_A_PAGE_ALONE = {"air_file": "/sites/{site_id}/air/files"}


@pytest.fixture(scope="module")
def club(makers, tmp_path_factory, portal: BlockingPortal) -> Iterator[FilledClub]:
    with filled_club(makers("sqlite").migrated(), tmp_path_factory.mktemp("behalf"), portal) as filled:
        yield filled


def send(club: FilledClub, method: str, route: str, party_id: str) -> httpx.Response:
    things = plausible.things_of(club, "administrator", route, own=False)
    office, address = club.client("administrator"), route.format_map(things)
    etag = office.get(plausible.EDITED_PARTS.sub("", address)).headers.get("ETag")
    headers = {"On-Behalf-Of": party_id} | ({"If-Match": etag} if etag and method in ("PATCH", "PUT") else {})
    if route in plausible.RAW:
        content, kind = plausible.RAW[route]
        asked = plausible.QUESTIONS.get(route)
        return office.post(address, content=content, headers={**headers, "Content-Type": kind}, params=asked)
    return office.request(
        method, address, json=plausible.filled_in(plausible.API[method, route], things), headers=headers
    )


def written_by(club: FilledClub, party_id: object) -> dict[str, set[object]]:
    """For whom somebody wrote, by table."""
    with club.database.reading() as session:
        return {
            table.name: set(
                session.execute(select(table.c.for_party_id).where(table.c.by_party_id == party_id)).scalars()
            )
            for table in TABLES
        }


def test_every_deed_done_for_somebody_is_written_down_as_theirs(club: FilledClub) -> None:
    office, other = club.cast.administrator.party_id, club.cast.collector.party_id
    before = written_by(club, office)
    wrong, reached = list[str](), set[str]()
    for method, route in [*plausible.API, *(("POST", raw) for raw in plausible.RAW)]:
        answer = send(club, method, route, str(other))
        if answer.is_success:
            for table, parties in written_by(club, office).items():
                reached |= {table} if other in parties else set()
                wrong += [f"{method} {route}: {table}"] if parties - before[table] - {other} else []
        club.put_back()

    assert wrong == []
    assert reached == {table.name for table in TABLES} - set(BY_A_PAGE_ALONE)


def submit(club: FilledClub, route: str, party_id: str) -> httpx.Response:
    things = plausible.things_of(club, "administrator", route, own=False)
    office = club.client("administrator")
    version = plausible.version_for(office, plausible.VERSIONS.get(route, "").format_map(things))
    form = plausible.filled_in(plausible.PAGES[route], {**things, "version": str(version)})
    files = plausible.FILES.get(route)
    return office.submit(
        route.format_map(things),
        plausible.new_form({**form, "on_behalf_of": party_id}),
        headers={"Accept": "text/html"},
        **({"files": files} if files else {}),
    )


def test_every_form_sent_for_somebody_writes_it_down_as_theirs_and_says_so(club: FilledClub) -> None:
    office, other = club.cast.administrator.party_id, club.cast.collector.party_id
    before = written_by(club, office)
    wrong, wrote = list[str](), set[str]()
    for route in plausible.PAGES:
        answer = submit(club, route, str(other))
        if answer.status_code == 303:
            after = written_by(club, office)
            wrong += [f"{route}: {table}" for table in after if after[table] - before[table] - {other}]
            if any(after[table] - before[table] for table in after):
                wrote.add(route)
                if "Written%20for%20" not in answer.headers.get("set-cookie", ""):
                    wrong.append(f"{route}: does not say for whom")
        club.put_back()

    assert wrong == []
    assert set(BY_A_PAGE_ALONE.values()) <= wrote
    assert {"/cut/{tree_id}", "/cut/from-paper", "/receive", "/trees/{tree_id}/look"} <= wrote
