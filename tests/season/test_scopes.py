"""Programs with a revoked token or too narrow a one, people who act for others, and what members see of each other's."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from anyio.from_thread import BlockingPortal

from tests.infra.cast import GUEST, NAMES
from tests.infra.web import Client
from tests.season import plausible
from tests.season.filled_club import FilledClub, filled_club, fixed

# One call of every stage, and the right it needs, by the word of the token's scope. Grafting the club's wood asks for a second.
SAMPLE = [
    ("GET", "/api/parties", "people"),
    ("PATCH", "/api/club", "administer"),
    ("POST", "/api/area-permits", "release"),
    ("PATCH", "/api/cultivars/{cultivar_id}", "catalogue"),
    ("POST", "/api/trees", "trees"),
    ("POST", "/api/tree-checks", "tree-checks"),
    ("POST", "/api/collections", "collect"),
    ("PATCH", "/api/bundles/{bundle_id}", "sticks"),
    ("POST", "/api/label-sheets", "labels"),
    ("POST", "/api/put-away", "store"),
    ("POST", "/api/bundle-checks", "bundle-checks"),
    ("PUT", "/api/loggers/{logger_id}/readings", "readings"),
    ("POST", "/api/dial-readings", "readings"),
    ("POST", "/api/hand-overs", "hand-over"),
    ("POST", "/api/grafts", "graft sticks"),
    ("POST", "/api/stops", "stop"),
    ("POST", "/api/recalls", "recall"),
    ("GET", "/api/bundles/{bundle_id}/timeline", "read"),
    ("GET", "/api/trees", "read"),
    ("GET", "/api/cultivars", "read"),
    ("GET", "/api/collections", "read"),
    ("GET", "/api/grafts", "read"),
    ("GET", "/api/tags/{code}", "read"),
]
IDS = [f"{method} {route}" for method, route, _ in SAMPLE]
ALL = {word for _, _, rights in SAMPLE for word in rights.split()} | {"act-for"}


@pytest.fixture(scope="module")
def club(makers, tmp_path_factory, portal: BlockingPortal) -> Iterator[FilledClub]:
    with filled_club(makers("sqlite").migrated(), tmp_path_factory.mktemp("scopes"), portal) as filled:
        yield filled


@pytest.fixture
def program(club: FilledClub) -> Iterator[Any]:
    """A program of the administrator with a token of these scopes; the record is put back after it."""
    opened: list[Client] = []

    def of(*scopes: str) -> tuple[Client, str]:
        made = club.client("administrator").post("/api/tokens", json={"name": "a script", "scopes": scopes})
        assert made.status_code == 201, made.text
        script = Client(club.app, club.portal)
        opened.append(script)
        script.headers["Authorization"] = f"Bearer {made.json()['token']}"
        return script, made.json()["id"]

    yield of
    for script in opened:
        script.close()
    club.put_back()


def call(club: FilledClub, script: Client, method: str, route: str) -> int:
    things = plausible.things_of(club, "administrator", route, own=False)
    address, body = route.format_map(things), plausible.filled_in(plausible.API.get((method, route)), things)
    etag = club.client("administrator").get(address).headers.get("ETag", "")
    return script.request(method, address, json=body, headers={"If-Match": etag} if etag else {}).status_code


@pytest.mark.parametrize("method, route, right", SAMPLE, ids=IDS)
def test_a_token_opens_what_its_scope_names_and_nothing_else(
    club: FilledClub, program: Any, method: str, route: str, right: str
) -> None:
    fitting, _ = program(*right.split())
    narrow, _ = program(*sorted(ALL - {right.split(maxsplit=1)[0]}))

    refused, let_in = call(club, narrow, method, route), call(club, fitting, method, route)

    assert (refused, let_in < 300) == (403, True), (refused, let_in)


@pytest.mark.parametrize("method, route, right", SAMPLE, ids=IDS)
def test_a_revoked_token_opens_nothing(
    club: FilledClub, program: Any, method: str, route: str, right: str
) -> None:
    script, token_id = program(*sorted(ALL))
    assert club.client("administrator").delete(f"/api/tokens/{token_id}").status_code == 204

    assert call(club, script, method, route) == 401


@pytest.mark.parametrize("who", ["member", "guest"])
def test_nobody_without_the_right_acts_for_another(club: FilledClub, who: str) -> None:
    other = {"On-Behalf-Of": str(club.cast.host.party_id)}

    for address in ("/api/session", "/api/grafts", "/account"):
        assert club.client(who).get(address, headers=other).status_code == 403, address


def test_a_volunteer_acts_for_another(club: FilledClub) -> None:
    other = str(club.cast.member.party_id)

    seen = club.client("host").get("/api/session", headers={"On-Behalf-Of": other}).json()

    assert seen["acting_for_id"] == other


@pytest.mark.parametrize("address", ["/api/grafts", "/api/plants", "/api/grafts/due"])
def test_lists_hold_a_members_own_alone(club: FilledClub, address: str) -> None:
    theirs = {"own_graft", "own_new_graft", "own_plant", "own_second_plant"}

    of_member = {row["id"] for row in club.client("member").get(address).json()["items"]}
    of_steward = {row["id"] for row in club.client("steward").get(address).json()["items"]}

    assert of_member <= {fixed(name) for name in theirs}
    assert of_member <= of_steward


@pytest.mark.parametrize(
    "address",
    [
        "/api/bundles", f"/api/bundles/{fixed('bundle')}/timeline", f"/api/trace/bundle/{fixed('bundle')}?around=true",
        f"/bundles/{fixed('bundle')}", f"/bundles/{fixed('others_bundle')}", "/", "/look-up?q=gravenstein", "/trees",
    ],
)  # fmt: skip
def test_a_member_is_not_told_who_has_the_clubs_wood(club: FilledClub, address: str) -> None:
    told = club.client("member").get(address, headers={"Accept": "text/html, application/json"})
    others = [GUEST, NAMES["host"], "Runa Vestergård"]

    assert told.status_code == 200
    assert [name for name in others if name in told.text] == []


def test_a_member_is_not_told_by_an_id_either_who_has_wood(club: FilledClub) -> None:
    """Trees tell their owners' names beside the same ids."""
    theirs = f"/api/bundles/{fixed('others_bundle')}"
    holder = club.client("steward").get(theirs).json()["holder_id"]
    assert holder is not None

    for address in (theirs, "/api/bundles?limit=200"):
        told = club.client("member").get(address)
        assert told.status_code == 200
        assert holder not in told.text, address
    assert club.client("member").get(f"/api/bundles?holder_id={holder}").status_code == 403
    assert club.client("member").get(f"{theirs}/moves").status_code == 403
    assert holder in club.client("steward").get(f"/api/bundles?holder_id={holder}").text
    assert holder in club.client("steward").get(f"{theirs}/moves").text


def test_a_member_is_told_what_is_their_own(club: FilledClub) -> None:
    own = str(club.cast.member.party_id)

    told = club.client("member").get(f"/api/bundles?holder_id={own}")

    assert told.status_code == 200
    assert {row["holder_id"] for row in told.json()["items"]} == {own}


@pytest.mark.parametrize("who", ["guest", "stranger"])
def test_the_start_and_the_look_up_show_no_wood_to_who_may_not_read(club: FilledClub, who: str) -> None:
    for address in ("/", "/look-up?q=gravenstein"):
        page = club.client(who).get(address, headers={"Accept": "text/html"}).text
        assert "/bundles/" not in page, address
        assert "Gravenstein" not in page, address


def test_a_token_without_the_right_says_so_and_a_role_without_it_something_else(
    club: FilledClub, program: Any
) -> None:
    narrow, _ = program("read")
    told = [
        answer.json()
        for answer in (
            narrow.post("/api/discards", json={"bundle_id": fixed("bundle"), "sticks": 1, "reason": "dry"}),
            club.client("member").post(
                "/api/discards", json={"bundle_id": fixed("bundle"), "sticks": 1, "reason": "dry"}
            ),
        )
    ]

    assert [each["type"] for each in told] == ["/problems/token-lacks-scope", "/problems/not-allowed"]
    assert "made without 'sticks'" in told[0]["detail"]
    assert told[1]["detail"] == "Your role does not let you split, count or throw away wood."
