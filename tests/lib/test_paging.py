"""Lists a page at a time: nothing twice, nothing left out, whatever is added meanwhile."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID, uuid4

import orjson
import pytest
from sqlmodel import Session, col, select

from service.lib.database import Database
from service.lib.paging import BadCursor, Page, Paging, page_of
from service.members.tables import Party
from service.pages.render import plural
from tests.infra.statements import Statements

LONG_AGO = datetime(2025, 1, 1, tzinfo=UTC)


@pytest.fixture
def session(database: Database) -> Iterator[Session]:
    with database.writing_session() as opened:
        yield opened


def add(session: Session, *hours: int) -> list[UUID]:
    rows = [
        Party(id=uuid4(), kind="guest", name=f"Guest {h}", created_at=LONG_AGO + timedelta(hours=h))
        for h in hours
    ]
    session.add_all(rows)
    session.commit()
    return [row.id for row in rows]


def page(session: Session, paging: Paging, *, newest_first: bool = True) -> Page[UUID]:
    keys = [(col(Party.created_at), newest_first), (col(Party.id), newest_first)]
    return page_of(session, select(Party.id), keys, paging, lambda row: row.id)


def walk(session: Session, limit: int, *, newest_first: bool = True) -> list[UUID]:
    found: list[UUID] = []
    paging = Paging(limit=limit)
    while True:
        one = page(session, paging, newest_first=newest_first)
        found += one.items
        if one.next is None:
            return found
        assert len(one.items) == limit
        paging = Paging(one.next, limit)


@pytest.mark.parametrize("limit", [1, 2, 3, 5, 7, 8, 200])
@pytest.mark.parametrize("newest_first", [True, False])
def test_every_row_comes_once_and_in_order_even_where_many_are_of_the_same_time(
    session: Session, limit: int, newest_first: bool
) -> None:
    ids = add(session, 3, 1, 1, 1, 2, 3, 0)
    times = dict(zip(ids, (3, 1, 1, 1, 2, 3, 0), strict=True))

    found = walk(session, limit, newest_first=newest_first)

    assert sorted(found) == sorted(ids)
    assert [times[each] for each in found] == sorted(times.values(), reverse=newest_first)


def test_what_is_added_between_two_pages_moves_none_of_them(session: Session) -> None:
    ids = add(session, *range(6))
    first = page(session, Paging(limit=3))
    add(session, 10, 11)

    second = page(session, Paging(first.next, 3))

    assert first.items + second.items == list(reversed(ids))
    assert (second.next, second.count) == (None, 8)


def test_a_list_without_rows_is_a_page_without_rows(session: Session) -> None:
    assert page(session, Paging()) == Page(items=[], next=None, count=0)


def test_a_long_list_is_not_counted_to_its_end(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("service.lib.paging.MOST_COUNTED", 4)
    add(session, *range(4))
    assert page(session, Paging(limit=2)).count == 4

    add(session, 9)

    assert page(session, Paging(limit=2)).count is None
    assert plural(None, "tree") == "more than 10,000 trees"


def test_a_page_costs_two_statements_and_one_without_the_count(
    session: Session, statements: Statements
) -> None:
    add(session, *range(5))
    statements.clear()

    with statements.exactly(2):
        page(session, Paging(limit=2))
    with statements.exactly(1):
        assert page(session, Paging(limit=2, counted=False)).count is None


def made(*parts: list[object]) -> str:
    return base64.urlsafe_b64encode(orjson.dumps(parts)).decode().rstrip("=")


AT, WHO = ["d", "2026-01-01T00:00:00+00:00"], ["u", "7d6f0b5e4c3a4f2e9d8c7b6a59483726"]


@pytest.mark.parametrize(
    "cursor",
    [
        "nonsense", "é", "====", "bnVsbA", made(), made(AT), made(AT, WHO, WHO), made(["d", "yesterday"], WHO), made(AT, ["u", "7"]),
        made(["d", "2026-01-01T00:00:00"], WHO), made(["x", 1], WHO), made(["v", None], WHO), made(["v", [1]], WHO),
        made(["v", 2**63], WHO), made(["d", 5], WHO), made(["v", {"a": 1}], WHO),
    ],
)  # fmt: skip
def test_a_cursor_from_elsewhere_is_refused_in_words(session: Session, cursor: str) -> None:
    with pytest.raises(BadCursor):
        page(session, Paging(cursor))
