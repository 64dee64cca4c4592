"""A club with something of everything in its record, told over HTTP, that can be put back as it was after each try.

The club and its people are invented.
"""

from __future__ import annotations

import contextlib
import io
import sqlite3
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest.mock import patch
from uuid import NAMESPACE_OID, uuid5

import qrcode
from anyio.from_thread import BlockingPortal
from fastapi import FastAPI
from PIL import Image
from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher
from sqlalchemy import update

from service.app import create_app
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.settings import Settings
from service.members import signin
from service.members.rules import PartyKind
from service.members.signin import SESSION_COOKIE, passwords
from service.members.tables import Account
from service.storage.actions.learned import record_learned
from tests.builders.catalogue import cultivar_id, load_catalogue, rootstock_id, taxon_id
from tests.builders.learned import learned_version
from tests.builders.members import calendar_secret, make_asker, make_session, quick_hash
from tests.conftest import TODAY
from tests.infra.cast import ROLES, Cast, put_cast
from tests.infra.web import Client, running
from tests.season.keeping import fill_stores
from tests.season.winter import HOST, Winter

Json = Any
QUICK = Argon2Hasher(time_cost=1, memory_cost=8, parallelism=1)
APPLE = "malus-domestica--gravensteiner"


def fixed(name: str) -> str:
    """An identity that is the same on every run."""
    return str(uuid5(NAMESPACE_OID, f"filled club/{name}"))


def picture() -> bytes:
    """A small one, all green."""
    made = io.BytesIO()
    Image.new("RGB", (8, 8), "green").save(made, "PNG")
    return made.getvalue()


def symbol(says: str) -> bytes:
    """A picture of a QR symbol that says this."""
    made = io.BytesIO()
    qrcode.make(says, box_size=6).save(made)
    return made.getvalue()


@dataclass
class FilledClub:
    """The app on its own database, what stands in it by name, and everybody's browser."""

    app: FastAPI
    database: Database
    portal: BlockingPortal
    cast: Cast
    clock: FixedClock
    snapshot: Path
    names: dict[str, str] = field(default_factory=dict)
    _browsers: dict[str, Client] = field(default_factory=dict)

    def client(self, who: str) -> Client:
        """Somebody's browser, always signed in as on the first day."""
        if who not in self._browsers:
            asker, token = self.cast.asker(who), self.cast.token(who)
            if who == "guest":
                token = self.names["guest_session"]
            cookie = (SESSION_COOKIE, token) if token else None
            csrf = self.names["guest_csrf"] if who == "guest" else asker.csrf_token if asker else ""
            self._browsers[who] = Client(self.app, self.portal, cookie=cookie, csrf_token=csrf)
        return self._browsers[who]

    def session_of(self, who: str) -> str:
        """The sign-in of somebody's browser, as they may end it."""
        made = (
            [one["id"] for one in self.client(who).get("/api/sessions").json()] if who != "stranger" else []
        )
        return made[0] if made else fixed("nobody's sign-in")

    def keep(self) -> None:
        """Remember the record as it stands now."""
        self._copy(Path(self.database.url.removeprefix("sqlite:///")), self.snapshot)

    def put_back(self) -> None:
        """The record as it was kept, nobody having tried anything too often, everybody signed in."""
        self._copy(self.snapshot, Path(self.database.url.removeprefix("sqlite:///")))
        signin.prepare(self.app)
        for browser in self._browsers.values():
            browser.close()
        self._browsers.clear()

    @staticmethod
    def _copy(source: Path, target: Path) -> None:
        with (
            contextlib.closing(sqlite3.connect(source)) as old,
            contextlib.closing(sqlite3.connect(target, timeout=5)) as new,
        ):
            new.execute("PRAGMA synchronous=OFF")
            old.backup(new)


@contextlib.contextmanager
def filled_club(url: str, folder: Path, portal: BlockingPortal) -> Iterator[FilledClub]:
    """The whole app over a migrated, empty SQLite, with a winter told in it."""
    database, clock = Database(url, synchronous="OFF"), FixedClock(TODAY)
    settings = Settings(data_dir=folder, database_url=url, token_calls_per_minute=1_000_000)
    with ExitStack() as stack:
        # Hashes at their real price belong to the tests of passwords.
        stack.enter_context(patch.object(passwords, "_HASHER", PasswordHash([QUICK])))
        stack.callback(database.close)
        app = stack.enter_context(running(create_app(settings, database=database, clock=clock), portal))
        club = FilledClub(app, database, portal, put_cast(database), clock, folder / "kept.sqlite3")
        _tell(club)
        club.keep()
        yield club


def _tell(club: FilledClub) -> None:
    winter = Winter(club.client, club.clock, club.cast)
    load_catalogue(club.app.state.writer)
    _places_and_trees(club, winter)
    _cuts(club, winter)
    _store(club, winter)
    _passing_on(club, winter)
    _bench(club, winter)
    _stop(club, winter)
    _people(club, winter)


def _places_and_trees(club: FilledClub, winter: Winter) -> None:
    winter.on(2025, 7, 5)
    areas = [{"id": fixed("area"), "name": "Hollin Vale"}, {"id": fixed("far_area"), "name": "Sallow Coast"}]
    winter.send("administrator", "/areas", areas)
    permit = {
        "id": fixed("permit"), "from_area_id": fixed("far_area"), "to_area_id": fixed("area"), "reference": "HV 7/25",
        "allows": True, "answered_on": "2025-07-01",
    }  # fmt: skip
    winter.send("health_steward", "/area-permits", [permit])
    cast = club.cast
    for party_id in (*(cast.asker(who).party_id for who in ROLES), cast.guest_id):
        winter.live_in(party_id, fixed("area"))
    sites = [
        {"id": fixed("site"), "name": "Weir orchard", "region": "Hollin Vale", "area_id": fixed("area")},
        {
            "id": fixed("far_site"),
            "name": "Dune plot",
            "region": "Sallow Coast",
            "area_id": fixed("far_area"),
        },
    ]
    winter.send("collector", "/sites", sites)
    apple = {"cultivar_id": str(cultivar_id(APPLE)), "may_cut": "yes", "planted_year": 1961}
    trees = [
        {"id": fixed("tree"), "site_id": fixed("site"), **apple},
        {"id": fixed("own_tree"), "site_id": fixed("site"), "owner_id": str(cast.member.party_id), **apple},
        {"id": fixed("sick_tree"), "site_id": fixed("site"), **apple},
        {"id": fixed("far_tree"), "site_id": fixed("far_site"), **apple},
        {
            "id": fixed("met_tree"),
            "site_id": fixed("site"),
            "taxon_id": str(taxon_id("malus-domestica")),
            "name_as_told": "apple by the pump",
            "provisional": True,
        },
    ]
    winter.send("collector", "/trees", trees)
    (tag,) = winter.send("collector", "/tags", [{"kind": "tree", "thing_id": fixed("tree")}])
    club.names[f"code of {fixed('tree')}"] = tag["code"]
    for name in ("tree", "own_tree", "sick_tree"):
        winter.look_at(fixed(name), "leaf", "healthy")
    for who in ROLES[1:]:  # everybody but a plain member
        winter.send(
            who,
            "/tree-checks",
            [{"id": fixed(f"look of {who}"), "tree_id": fixed("tree"), "kind": "leaf", "result": "healthy"}],
        )
    address = winter.send("administrator", "/public-addresses", {"host": HOST})
    club.names["address"] = address["id"]
    winter.send("administrator", f"/public-addresses/{address['id']}/confirmation", {})
    sent = club.client("collector").post(
        "/api/pictures", content=picture(), headers={"Content-Type": "image/png"}
    )
    club.names["sha256"] = sent.json()["sha256"]


def _cuts(club: FilledClub, winter: Winter) -> None:
    winter.on(2026, 1, 10)
    for tree, bundles in (("tree", ("bundle", "spare_bundle")), ("sick_tree", ("sick_bundle",))):
        cut = {
            "id": fixed(f"cut of {tree}"), "tree_id": fixed(tree), "sticks": 20 * len(bundles), "stage": "00",
            "leaves_down": True, "disinfected": True,
        }  # fmt: skip
        body = [{"cut": cut, "bundles": [{"id": fixed(name), "sticks": 20} for name in bundles]}]
        (made,) = winter.send("collector", "/labelled-cuts", body)
        club.names |= {f"code of {each['id']}": each["code"] for each in made["bundles"]}
        club.names["round"] = made["collection"]["round_id"]
    unfinished = {"id": fixed("unfinished"), "tree_id": fixed("tree"), "sticks": 5}
    winter.send("collector", "/collections", [unfinished])
    receipt = {
        "id": fixed("receipt"), "taxon_id": str(taxon_id("malus-domestica")), "name_as_told": "Old Dune Russet", "sticks": 6,
        "from_whom": "a neighbour", "health_paper": "none", "area_id": fixed("area"),
    }  # fmt: skip
    body = [{"receipt": receipt, "bundles": [{"id": fixed("received"), "sticks": 6}]}]
    (made,) = winter.send("collector", "/labelled-receipts", body)
    club.names[f"code of {fixed('received')}"] = made["bundles"][0]["code"]
    sheet = {"id": fixed("sheet"), "codes": [club.names[f"code of {fixed('bundle')}"]], "sheet": "a4-3x7"}
    assert club.client("collector").post("/api/label-sheets", json=sheet).status_code == 201
    roll = {"page_w_mm": 60, "page_h_mm": 30, "label_w_mm": 60, "label_h_mm": 30}
    winter.send(
        "collector", "/label-sheet-sizes", {"id": fixed("own_sheet"), "title": "The old roll", **roll}
    )
    winter.send("collector", "/blank-batches", {"id": fixed("blank_batch"), "blanks": 5})
    left = club.client("collector").get(f"/api/blank-batches/{fixed('blank_batch')}/left")
    club.names["blank"] = left.json()[0]


def _store(club: FilledClub, winter: Winter) -> None:
    host = str(club.cast.host.party_id)
    for name, kind in (("store", "fridge"), ("cellar", "cellar")):
        store = {"id": fixed(name), "name": name, "kind": kind, "host_id": host, "places": ["Top", "Bottom"]}
        made = winter.send("host", "/stores", store)
        club.names |= {f"code of {fixed(name)}": made["code"], "place": made["places"][-1]["id"]}
    for name in ("box", "other_box"):
        made = winter.send("host", "/boxes", {"id": fixed(name), "name": name, "store_id": fixed("store")})
        club.names[f"code of {fixed(name)}"] = made["code"]
    for name in ("bundle", "spare_bundle", "sick_bundle", "received"):
        winter.put_into_box(club.names[f"code of {fixed(name)}"], club.names[f"code of {fixed('box')}"])
    look = {"bundle_id": fixed("bundle"), "buds": "tight"}
    winter.send("host", "/bundle-checks", [look])
    fill_stores(winter, club.client, fixed)


def _passing_on(club: FilledClub, winter: Winter) -> None:
    winter.on(2026, 3, 7)
    takers = {
        "own_bundle": ("bundle", club.cast.member.party_id), "others_bundle": ("bundle", club.cast.guest_id),
        "flag": ("flag", club.cast.guest_id), "table": ("table", None),
    }  # fmt: skip
    for name, (form, party_id) in takers.items():
        body = {
            "child_id": fixed(name), "bundle_id": fixed("bundle"), "sticks": 3, "form": form,
            "party_id": str(party_id) if party_id else None,
        }  # fmt: skip
        (made,) = winter.send("steward", "/hand-overs", [body])
        club.names[f"code of {fixed(name)}"] = made["bundle"]["code"] or ""


def _bench(club: FilledClub, winter: Winter) -> None:
    winter.on(2026, 4, 11)
    for who, mark, bundle in (("member", "own", "own_bundle"), ("steward", "others", "spare_bundle")):
        graft = {
            "id": fixed(f"{mark}_graft"), "woods": [{"bundle_id": fixed(bundle), "sticks": 1}],
            "method": "whip-and-tongue", "grafts": 2,
            "plants": [{"id": fixed(f"{mark}_plant")}, {"id": fixed(f"{mark}_second_plant")}],
            "rootstock_id": str(rootstock_id("m-26")),
        }  # fmt: skip
        (made,) = winter.send(who, "/grafts", [graft])
        club.names |= {f"code of {plant['id']}": plant["code"] for plant in made["plants"]}
        # A further graft that nobody has looked at since.
        winter.send(who, "/grafts", [{**graft, "id": fixed(f"{mark}_new_graft"), "plants": 0}])
    winter.on(2026, 6, 13)
    for mark in ("own", "others"):
        look = {"plant_id": fixed(f"{mark}_plant"), "alive": 1, "looked_at": 1, "is_verdict": True}
        winter.send("steward", "/take-checks", [look])
    club.app.state.writer.write_now(record_learned, None, learned_version())


def _stop(club: FilledClub, winter: Winter) -> None:
    case = {
        "id": fixed("stop"),
        "tree_id": fixed("sick_tree"),
        "reason": "health",
        "agent": "apple-proliferation",
    }
    winter.send("health_steward", "/stops", case)
    winter.send("health_steward", "/recalls", {"id": fixed("recall"), "stop_id": fixed("stop")})
    doubt = {"id": fixed("doubt"), "bundle_id": fixed("received"), "reason": "name"}
    winter.send("health_steward", "/stops", doubt)


def _people(club: FilledClub, winter: Winter) -> None:
    others = [{"id": fixed("party"), "kind": "guest", "name": "Runa Vestergård", "area_id": fixed("area")}]
    winter.send("steward", "/parties", others)
    made = winter.send("steward", "/invitations", {"id": fixed("invitation"), "party_id": fixed("party")})
    club.names["invitation_token"] = made["token"]
    with club.database.writing_session() as session:
        session.execute(update(Account).values(password_hash=quick_hash()))
        session.commit()
    guest = make_asker(club.app.state.writer, name="Pia Holm the guest", kind=PartyKind.GUEST)
    signed_in = make_session(club.app.state.writer, guest)
    club.names |= {
        "guest_session": signed_in.token,
        "guest_csrf": signed_in.csrf_token,
        "guest_party": str(guest.party_id),
    }
    club.names["calendar_secret"] = calendar_secret(club.app.state.writer, club.cast.steward)
    for who in ROLES:
        body = {"id": fixed(f"token of {who}"), "name": "a script", "scopes": ["read"]}
        club.names[f"token of {who}"] = winter.send(who, "/tokens", body)["token"]
