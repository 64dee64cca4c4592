"""What somebody has already is not sent again: one tag over version and bytes, told apart by who asks (RFC 9110, 13.1.2)."""

from __future__ import annotations

import re

import pytest

from service.lib.etags import VARY, is_known
from service.lib.write import Writer
from tests.builders.provenance import Yard, make_yard
from tests.builders.trees import look
from tests.infra.cast import Cast


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    return make_yard(writer, cast)


@pytest.mark.parametrize(
    "header, known",
    [
        ('"a"', True),
        ('W/"a"', True),
        ('"b", "a"', True),
        ("*", True),
        ('"b"', False),
        ("", False),
        ("a", False),
        ('"a-gzip"', True),
        ('"b", W/"a--gzip"', True),
        ('"a;br"', True),
        ('"a-b"', False),
    ],
    ids=[
        "same",
        "weak",
        "in-a-list",
        "any",
        "other",
        "none",
        "unquoted",
        "gzip",
        "listed-gzip",
        "br",
        "longer",
    ],
)
def test_tags_are_compared_weakly(header: str, known: bool) -> None:
    assert is_known('"a"', header) is known


def test_every_single_thing_is_sent_once_to_whoever_has_it(yard: Yard, client) -> None:
    (bundle,) = yard.cut(6)
    graft = yard.graft(bundle.id)
    stop = yard.stop()
    steward = client("administrator")
    for path in (
        f"/api/trees/{yard.tree_id}", f"/api/sites/{yard.orchard.site_id}", f"/api/collections/{bundle.collection_id}",
        f"/api/bundles/{bundle.id}", f"/api/bundles/{bundle.id}/timeline", f"/api/grafts/{graft.id}",
        f"/api/plants/{graft.plants[0].id}", f"/api/stops/{stop.stop.id}", f"/api/stops/{stop.stop.id}/wood",
        f"/api/areas/{yard.orchard.area_id}", f"/api/cultivars/{yard.orchard.gala_id}", f"/api/taxa/{yard.orchard.apple_id}",
        f"/api/rootstocks/{yard.orchard.m9_id}", f"/api/trace/tree/{yard.tree_id}", f"/api/tags/{bundle.code}/answer", "/api/club",
    ):  # fmt: skip
        first = steward.get(path)
        again = steward.get(path, headers={"If-None-Match": first.headers["ETag"]})
        other = steward.get(path, headers={"If-None-Match": '"v999-00"'})

        assert (first.status_code, again.status_code, other.status_code) == (200, 304, 200), path
        assert again.content == b"" and "content-length" not in again.headers
        assert again.headers["ETag"] == first.headers["ETag"]
        for answer in (first, again):
            assert answer.headers["Vary"] == VARY
            assert answer.headers["Cache-Control"] == "private, no-cache"


def test_a_tag_holds_the_version_for_edits_and_changes_with_what_the_answer_tells(yard: Yard, client) -> None:
    steward, path = client("steward"), f"/api/trees/{yard.tree_id}"
    before = steward.get(path)
    look(yard.writer, yard.cast.steward, yard.tree_id)

    after = steward.get(path, headers={"If-None-Match": before.headers["ETag"]})

    assert after.status_code == 200  # the tree is the same, what is known of it is not
    assert after.json()["version"] == before.json()["version"]
    assert after.headers["ETag"] != before.headers["ETag"]
    assert re.fullmatch(r'"v1-[0-9a-f]{32}"', after.headers["ETag"])
    for tag in (after.headers["ETag"], '"v2"'):
        changed = steward.patch(path, json={"note": tag[:3]}, headers={"If-Match": tag})
        assert changed.status_code == 200, changed.text


# As proxies are known to write it behind a tag when they compress an answer: github.com/caddyserver/caddy, issue 7096, and
# github.com/mdn/content, issue 4343 (`-gzip`); github.com/jetty/jetty.project, issue 1416 (`--gzip`).
@pytest.mark.parametrize("coding", ["-gzip", "--gzip", "-zstd", "-br"])
def test_an_edit_holds_on_a_tag_that_a_proxy_wrote_its_compression_behind(
    yard: Yard, client, coding: str
) -> None:
    steward, path = client("steward"), f"/api/trees/{yard.tree_id}"
    tag = f'{steward.get(path).headers["ETag"][:-1]}{coding}"'

    known = steward.get(path, headers={"If-None-Match": tag})
    changed = steward.patch(path, json={"note": "by the gate"}, headers={"If-Match": tag})
    stale = steward.patch(path, json={"note": "by the wall"}, headers={"If-Match": tag})

    assert (known.status_code, changed.status_code, stale.status_code) == (304, 200, 412)


def test_people_who_see_different_things_have_different_tags(yard: Yard, client) -> None:
    path = f"/api/sites/{yard.orchard.site_id}"
    yard.writer.write_now(_tell_where, None, yard.orchard.site_id)

    seen = {who: client(who).get(path) for who in ("steward", "member")}

    assert seen["steward"].headers["ETag"] != seen["member"].headers["ETag"]
    told = client("member").get(path, headers={"If-None-Match": seen["steward"].headers["ETag"]})
    assert told.status_code == 200


def _tell_where(session, site_id) -> None:
    from service.trees.tables import Site

    session.get(Site, site_id).directions = "behind the chapel"
    session.flush()


def test_problems_and_changes_are_never_answered_with_304(yard: Yard, client) -> None:
    missing = client("steward").get(f"/api/trees/{yard.cast.guest_id}", headers={"If-None-Match": "*"})
    refused = client("stranger").get(f"/api/trees/{yard.tree_id}", headers={"If-None-Match": "*"})
    made = client("steward").post("/api/discards", json={}, headers={"If-None-Match": "*"})

    assert [one.status_code for one in (missing, refused, made)] == [404, 401, 422]
