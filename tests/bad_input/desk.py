"""What the tests of bad input share: a club to ask, its whole state, and what every refusal must say."""

from __future__ import annotations

import hashlib
import html
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI

from service.lib.clock import FixedClock
from service.lib.database import Database, metadata
from service.lib.errors import Problem
from service.lib.write import Writer
from service.members.signin import SESSION_COOKIE
from tests.builders.bundles import audit_of, settle
from tests.builders.trees import Orchard, make_orchard, make_tree, read_tree
from tests.infra.cast import ROLES, Cast, put_cast
from tests.infra.web import Client

Json = Any
State = dict[str, str]
PAGE = {"Accept": "text/html"}


@dataclass
class Club:
    """A club whose app runs on one database; refused requests leave it as it was, so that many tests share it."""

    app: FastAPI
    database: Database
    clock: FixedClock
    portal: BlockingPortal
    data_dir: Path
    cast: Cast
    orchard: Orchard
    tree_id: str
    browsers: dict[str, Client] = field(default_factory=dict)

    @property
    def writer(self) -> Writer:
        writer: Writer = self.app.state.writer
        return writer

    def browser(self, who: str = "steward") -> Client:
        if who not in self.browsers:
            asker, token = self.cast.asker(who), self.cast.token(who)
            cookie = (SESSION_COOKIE, token) if token else None
            csrf = asker.csrf_token if asker else ""
            self.browsers[who] = Client(self.app, self.portal, cookie=cookie, csrf_token=csrf)
        return self.browsers[who]

    def post(self, path: str, body: Json, who: str = "steward", **given: Any) -> httpx.Response:
        return self.browser(who).post(f"/api{path}", json=body, **given)

    def made(self, path: str, body: Json, who: str = "steward", **given: Any) -> Json:
        answer = self.post(path, body, who, **given)
        assert answer.status_code == 201, answer.text
        return answer.json()

    def get(self, path: str, who: str = "steward", **params: Any) -> Json:
        answer = self.browser(who).get(f"/api{path}", params=params)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def submit(self, path: str, form: dict[str, Any], who: str = "steward", **given: Any) -> httpx.Response:
        """A page's form, opened just now."""
        fields = {"form_key": str(uuid4()), **form}
        return self.browser(who).submit(path, fields, headers=PAGE, **given)

    def page(self, path: str, who: str = "steward") -> httpx.Response:
        return self.browser(who).get(path, headers=PAGE)

    # -- things to act on ------------------------------------------------------------------------------------------

    def plant(self, **told: Any) -> str:
        """A tree of its own, whose bundles nobody else's test touches."""
        return str(make_tree(self.writer, self.cast.steward, self.orchard, **told).id)

    def cut(self, *sticks: int, tree_id: str | None = None, **told: Any) -> list[Json]:
        """Tagged bundles of a new cut."""
        cut = {
            "tree_id": tree_id or self.tree_id,
            "sticks": sum(sticks),
            "stage": "00",
            "disinfected": True,
            **told,
        }
        (made,) = self.made("/labelled-cuts", [{"cut": cut, "bundles": [{"sticks": n} for n in sticks]}])
        return made["bundles"]

    def bundle(self, sticks: int = 12) -> Json:
        return self.cut(sticks)[0]

    def hand_over(self, bundle: Json, sticks: int, form: str = "bundle", party: Any = None) -> Json:
        receiver = {} if form == "table" else {"party_id": str(party or self.cast.guest_id)}
        body = {"bundle_id": bundle["id"], "sticks": sticks, "form": form, **receiver}
        return self.made("/hand-overs", [body])[0]["bundle"]

    def graft(self, bundle: Json, **told: Any) -> Json:
        stock = (
            {} if told.keys() & {"stock_tree_id", "plant_id"} else {"rootstock_id": str(self.orchard.m9_id)}
        )
        return self.made("/grafts", [{"woods": [{"bundle_id": bundle["id"]}], **stock, **told}])[0]

    def stop(self, **what: Any) -> Json:
        return self.made("/stops", {"reason": "health", **what}, "health_steward")

    # -- before and after ------------------------------------------------------------------------------------------

    @contextmanager
    def nothing_written(self) -> Iterator[None]:
        """Every row of every table and every kept file is the same after as before, and the ledger adds up."""
        before = self.state()
        yield
        after = self.state()
        changed = [name for name in before.keys() | after.keys() if before.get(name) != after.get(name)]
        assert changed == []
        assert audit_of(self.database).clean

    def state(self) -> State:
        found: State = {}
        names = [table.name for table in metadata.sorted_tables]
        with self.database.reading() as session:
            # Without the mapping of columns: this is asked hundreds of times.
            cursor = session.connection().connection.cursor()
            if self.database.is_sqlite:
                for name in names:
                    rows = sorted(map(repr, cursor.execute(f'select * from "{name}"').fetchall()))
                    found[name] = hashlib.sha256("\n".join(rows).encode()).hexdigest()
            else:
                each = (
                    f"select '{name}', md5(string_agg(t::text, ' ' order by t::text)) from \"{name}\" t"
                    for name in names
                )
                cursor.execute(" union all ".join(each))
                found.update((name, digest or "") for name, digest in cursor.fetchall())
            cursor.close()
        for path in sorted(self.data_dir.rglob("*")):
            if path.is_file():
                found[str(path)] = hashlib.sha256(path.read_bytes()).hexdigest()
        return found


def open_club(
    app: FastAPI, database: Database, clock: FixedClock, portal: BlockingPortal, data_dir: Path
) -> Club:
    """The cast in an orchard of two areas, all living in the first, with one tree that may be cut."""
    cast, writer = put_cast(database), app.state.writer
    orchard = make_orchard(writer, cast.steward)
    settle(writer, orchard.area_id, cast.guest_id, *(getattr(cast, who).party_id for who in ROLES))
    tree = make_tree(writer, cast.steward, orchard)
    assert read_tree(database, tree.id).number == 1
    club = Club(app, database, clock, portal, data_dir, cast, orchard, str(tree.id))
    address = club.made("/public-addresses", {"host": "tags.hollin-vale.example"}, "administrator")
    confirmed = club.post(f"/public-addresses/{address['id']}/confirmation", None, "administrator")
    assert confirmed.is_success, confirmed.text
    return club


# -- what a refusal says -------------------------------------------------------------------------------------------


def check_problem(
    answer: httpx.Response, status: int, problem: type[Problem] | str, *, changing: bool = True
) -> Json:
    """A problem answer (RFC 9457) in plain words: what happened, that nothing was written, what to do next."""
    slug = problem if isinstance(problem, str) else problem.slug()
    assert (answer.status_code, answer.headers["Content-Type"]) == (status, "application/problem+json"), (
        answer.text
    )
    body = answer.json()
    assert (body["status"], body["type"]) == (status, f"/problems/{slug}"), body
    assert len(body["title"]) > 8, body
    assert len(body["detail"]) > 8, body
    assert len(body["todo"]) > 8, body
    if changing:
        assert body["outcome"] in ("Nothing was written.", "Nothing was written twice."), body
    else:
        assert body["outcome"] == "", "nothing was to be written, so nothing is said of it"
    return body


def words_of(page: httpx.Response) -> str:
    """What a page says, without its marks."""
    main = page.text.partition("<main")[2].partition("</main>")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", main)).split())


def check_page(
    page: httpx.Response, status: int, *says: str, at: str = "", keeps: dict[str, str] | None = None
) -> str:
    """A page that tells the problem at its top (and at a field), and keeps what was typed."""
    assert (page.status_code, page.headers["Content-Type"][:9]) == (status, "text/html"), page.text[:500]
    told = words_of(page)
    for words in says:
        assert words in told, told[:1500]
    if at:
        assert f'id="{at}-wrong"' in page.text, page.text
    fields = typed_in(page.text)
    for name, value in (keeps or {}).items():
        assert value in fields.get(name, []), (name, value, fields)
    return told


def typed_in(page: str) -> dict[str, list[str]]:
    """The values that a page's fields hold: typed, ticked or chosen."""
    found: dict[str, list[str]] = {}
    for mark in re.findall(r"<input[^>]*>", page):
        told = dict(re.findall(r'([\w-]+)="([^"]*)"', mark))
        if told.get("type") in ("radio", "checkbox") and " checked" not in mark:
            continue
        found.setdefault(told.get("name", ""), []).append(html.unescape(told.get("value", "")))
    for name, inside in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', page, re.DOTALL):
        found.setdefault(name, []).append(html.unescape(inside))
    for name, inside in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', page, re.DOTALL):
        found.setdefault(name, []).extend(re.findall(r'value="([^"]*)" selected', inside))
    return found


Clubs = Callable[[str], Club]
