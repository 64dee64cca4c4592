"""A commit that fails, a connection that breaks while it is saved, a database that is away: never told as saved."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
import psycopg
import pytest
from anyio.from_thread import BlockingPortal
from sqlalchemy import event

from service.lib.errors import Broken, MaybeSaved, NotSaved, Stale, Unreachable
from tests.bad_input.conftest import opened
from tests.bad_input.desk import PAGE, Club, Json, check_page, check_problem
from tests.bad_input.lossy_line import LossyLine
from tests.builders.bundles import audit_of
from tests.infra import postgres
from tests.infra.databases import Maker, one_of
from tests.infra.web import PortalTransport

MAYBE = "It may or may not have been saved."


def deed(club: Club, bundle: Json) -> Callable[[], httpx.Response]:
    """One request, ready to be sent again and again."""
    body = {"bundle_id": bundle["id"], "sticks": 2, "reason": "dry"}
    key = {"Idempotency-Key": str(uuid4())}
    return lambda: club.post("/discards", body, headers=key)


def on_hand(club: Club, bundle: Json) -> int:
    return int(club.get(f"/bundles/{bundle['id']}")["on_hand"])


@contextmanager
def at_the_commit(club: Club, do: Callable[[], None]) -> Iterator[None]:
    """Something happens when all is ready to be committed."""
    club.writer.reached = lambda point: do() if point == "before commit" else None
    try:
        yield
    finally:
        club.writer.reached = lambda _point: None


def fail() -> None:
    raise OSError("no space left")


# -- a commit that fails -----------------------------------------------------------------------------------------------


def test_a_commit_that_fails_is_told_and_the_same_request_is_done_once_after(fresh_club: Club) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    send = deed(club, bundle)

    with club.nothing_written(), at_the_commit(club, fail):
        lost = send()
    answers = [send(), send()]

    assert "same request again" in check_problem(lost, 503, NotSaved)["todo"]
    assert [answer.status_code for answer in answers] == [201, 201]
    assert answers[0].json() == answers[1].json()
    assert on_hand(club, bundle) == 7


def test_a_form_whose_commit_fails_keeps_what_was_typed(fresh_club: Club) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    form = {
        "form_key": str(uuid4()),
        "sticks": "2",
        "form": "flag",
        "party_id": str(club.cast.guest_id),
        "reason": "by hand",
    }

    with club.nothing_written(), at_the_commit(club, fail):
        page = club.submit(f"/hand-over/{bundle['id']}", form)
    again = club.submit(f"/hand-over/{bundle['id']}", form)

    check_page(page, 503, "It could not be saved", "Nothing was written.", keeps=form)
    assert again.status_code == 303
    assert on_hand(club, bundle) == 7


def test_a_card_that_cannot_be_renewed_takes_its_change_back(
    fresh_club: Club, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What goes wrong after the ledger was written takes the ledger back too; a fault of ours is told as one."""
    club = fresh_club
    bundle = club.bundle(9)
    send = deed(club, bundle)

    def break_down(*_args: Any) -> None:
        raise RuntimeError("a fault")

    club.writer.hooks.append(break_down)
    asks = club.browser("steward")
    asks._transport = Forgiving(club.app, club.portal)
    with club.nothing_written():
        answer = send()
    club.writer.hooks.pop()

    assert (answer.status_code, answer.headers["Content-Type"]) == (500, "application/problem+json")
    told = answer.json()
    assert (told["type"], told["outcome"]) == (f"/problems/{Broken.slug()}", MAYBE)
    assert answer.headers["X-Request-Id"] in told["detail"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert send().status_code == 201


class Forgiving(PortalTransport):
    """Gives the answer to a fault as a real server does, instead of raising the fault."""

    async def _ask(self, request: httpx.Request) -> httpx.Response:
        inner = httpx.ASGITransport(app=self.app, raise_app_exceptions=False, client=("127.0.0.1", 50000))
        asked = httpx.Request(request.method, request.url, headers=request.headers, content=request.read())
        answer = await inner.handle_async_request(asked)
        assert isinstance(answer.stream, httpx.AsyncByteStream)
        body = b"".join([part async for part in answer.stream])
        return httpx.Response(answer.status_code, headers=answer.headers, content=body)


# -- a connection that breaks ----------------------------------------------------------------------------------------------


def end_connections(url: str) -> None:
    """Have the server end every connection but our own, as an administrator or a restart does."""
    name, _, folder = url.partition("@/")[2].partition("?host=")
    with psycopg.connect(host=folder, user=postgres.USER, dbname="postgres", autocommit=True) as server:
        ended = server.execute(
            "select count(pg_terminate_backend(pid)) from pg_stat_activity where datname = %s", (name,)
        ).fetchone()
    assert ended is not None
    assert ended[0] > 0


@pytest.mark.databases("postgres")
def test_a_connection_ended_at_the_commit_is_told_as_unknown_and_the_same_key_settles_it(
    fresh_club: Club,
) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    send = deed(club, bundle)

    with club.nothing_written(), at_the_commit(club, lambda: end_connections(club.database.url)):
        unknown = send()
    settled, again = send(), send()

    check_unknown(unknown, "Send the same request again with the same key")
    assert (settled.status_code, again.json()) == (201, settled.json())
    assert on_hand(club, bundle) == 7
    assert audit_of(club.database).clean


@pytest.fixture
def lossy(
    makers: Callable[[str], Maker], database_kind: str, portal: BlockingPortal, tmp_path: Path
) -> Iterator[tuple[Club, LossyLine]]:
    """A club that reaches its PostgreSQL over a line that can lose an answer."""
    maker = makers(database_kind)
    with one_of(maker) as url, LossyLine(url.partition("?host=")[2]) as line:
        through = url.partition("?host=")[0] + f"?host={line.folder.name}"

        class Made:
            """The one database, by its other address."""

            migrated = staticmethod(lambda: through)
            empty = migrated
            drop = staticmethod(lambda _url: None)

        with opened(Made(), portal, tmp_path / "data") as club:  # type: ignore[arg-type]
            yield club, line


@pytest.mark.databases("postgres")
def test_a_commit_whose_answer_is_lost_was_saved_and_is_not_done_twice(lossy: tuple[Club, LossyLine]) -> None:
    club, line = lossy
    bundle = club.bundle(9)
    send = deed(club, bundle)

    line.lose_next = True
    unknown = send()
    left = on_hand(club, bundle)
    settled = send()

    check_unknown(unknown, "Send the same request again with the same key")
    assert line.lost == 1
    assert left == 7, "it was saved, and nobody heard"
    assert settled.status_code == 201
    assert (settled.json()["on_hand"], on_hand(club, bundle)) == (7, 7)
    assert audit_of(club.database).clean


@pytest.mark.databases("postgres")
def test_an_edit_whose_answer_is_lost_is_to_be_read_again(lossy: tuple[Club, LossyLine]) -> None:
    club, line = lossy
    address = f"/api/bundles/{club.bundle(9)['id']}"
    browser = club.browser()
    read = {"If-Match": browser.get(address).headers["ETag"]}

    line.lose_next = True
    unknown = browser.patch(address, json={"note": "by the door"}, headers=read)
    again = browser.patch(address, json={"note": "by the door"}, headers=read)

    check_unknown(unknown, "Read it again")
    check_problem(again, 412, Stale)
    assert browser.get(address).json()["note"] == "by the door"


@pytest.mark.databases("postgres")
def test_a_form_whose_answer_is_lost_says_so_and_sent_again_is_done_once(
    lossy: tuple[Club, LossyLine],
) -> None:
    club, line = lossy
    bundle = club.bundle(9)
    form = {"form_key": str(uuid4()), "sticks": "2", "form": "flag", "party_id": str(club.cast.guest_id)}

    line.lose_next = True
    unknown = club.submit(f"/hand-over/{bundle['id']}", form)
    again = club.submit(f"/hand-over/{bundle['id']}", form)

    check_page(
        unknown, 503, "Nobody can say whether it was saved", MAYBE, "Send the same request again", keeps=form
    )
    assert again.status_code == 303
    assert on_hand(club, bundle) == 7


def check_unknown(answer: httpx.Response, todo: str) -> None:
    assert (answer.status_code, answer.json()["type"]) == (503, f"/problems/{MaybeSaved.slug()}"), answer.text
    assert answer.json()["outcome"] == MAYBE
    assert "broke while this was being saved" in answer.json()["detail"]
    assert todo in answer.json()["todo"]
    assert "othing was written" not in answer.text


@pytest.mark.databases("postgres")
def test_idle_connections_that_were_ended_are_made_anew_unnoticed(fresh_club: Club) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    send = deed(club, bundle)
    assert on_hand(club, bundle) == 9
    end_connections(club.database.url)

    answer = send()

    assert answer.status_code == 201, answer.text
    assert on_hand(club, bundle) == 7


# -- a database that is away -----------------------------------------------------------------------------------------------


@pytest.mark.databases("sqlite")
def test_a_locked_database_is_told_as_not_saved_and_the_same_request_is_done_once_after(
    fresh_club: Club,
) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    send = deed(club, bundle)
    without_patience = event.listens_for(club.database.writer, "checkout")
    without_patience(lambda connection, *_: connection.execute("PRAGMA busy_timeout=50"))
    club.writer.stop()
    club.database.writer.dispose()
    club.writer.start()

    with closing(
        sqlite3.connect(club.database.url.removeprefix("sqlite:///"), isolation_level=None)
    ) as other:
        other.execute("BEGIN EXCLUSIVE")
        lost = send()
        other.execute("ROLLBACK")
    saved = send()

    check_problem(lost, 503, NotSaved)
    assert saved.status_code == 201
    assert on_hand(club, bundle) == 7


@contextmanager
def away(club: Club) -> Iterator[None]:
    """The database cannot be reached for reading: its file is gone, or its server takes no connection."""
    club.database.reader.dispose()
    if not club.database.is_sqlite:
        with taking_no_connections(club.database.url):
            yield
        return
    path = Path(club.database.url.removeprefix("sqlite:///"))
    parts = [part for end in ("", "-wal", "-shm") if (part := path.with_name(path.name + end)).exists()]
    for part in parts:
        part.rename(part.with_name(f"away-{part.name}"))
    path.mkdir()
    yield
    path.rmdir()
    for part in parts:
        part.with_name(f"away-{part.name}").rename(part)


@contextmanager
def taking_no_connections(url: str) -> Iterator[None]:
    name, _, folder = url.partition("@/")[2].partition("?host=")
    with psycopg.connect(host=folder, user=postgres.USER, dbname="postgres", autocommit=True) as server:
        server.execute(f'alter database "{name}" allow_connections false'.encode())
        server.execute("select pg_terminate_backend(pid) from pg_stat_activity where datname = %s", (name,))
        yield
        server.execute(f'alter database "{name}" allow_connections true'.encode())


def test_a_database_that_cannot_be_read_is_told_as_away_not_as_a_fault(fresh_club: Club) -> None:
    club = fresh_club
    bundle = club.bundle(9)
    browser = club.browser()

    with away(club):
        answer = browser.get(f"/api/bundles/{bundle['id']}")
        page = browser.get(f"/T/{bundle['code']}", headers=PAGE)
        form = club.submit(f"/hand-over/{bundle['id']}", {"sticks": "1", "form": "table"})

    for heard in (answer, page, form):
        assert heard.status_code == 503, heard.text[:300]
    told = check_problem(answer, 503, Unreachable, changing=False)
    assert "Wait a little" in told["todo"]
    assert browser.get(f"/api/bundles/{bundle['id']}").json()["on_hand"] == 9
    assert audit_of(club.database).clean
