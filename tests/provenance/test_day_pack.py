"""What a phone takes along: the tags of wood on hand as a stranger hears them, and the trees with their stops."""

from __future__ import annotations

import gzip
from datetime import date, timedelta

import pytest

from service.provenance import queries
from service.provenance.rules.day_pack import SEASON_DAYS, good_for_days, rule_for, why_not_cut
from service.tags import actions as tags
from service.tags.queries import list_blanks_left
from service.tags.schemas import BlankBatchCreate, PublicAddressCreate, TagCreate
from service.trees import actions as trees
from service.trees.rules import MayCut
from service.trees.schemas import SiteUpdate
from tests.builders.provenance import Yard
from tests.builders.trees import make_tree
from tests.infra.cast import NAMES
from tests.infra.statements import Statements


def packed(yard: Yard, who: str = "collector", *, exact: bool = True):
    with yard.database.reading() as session:
        return queries.day_pack_for(session, yard.cast.asker(who), yard.writer.clock.now(), exact=exact)


def test_each_tag_says_what_a_stranger_hears(yard: Yard) -> None:
    first, second = yard.cut(8, 3)

    pack = packed(yard)

    told = {tag.code: tag for tag in pack.tags}
    assert set(told) == {first.code, second.code}
    assert told[first.code].says == yard.scan(first.code).answer
    assert told[first.code].more[0] == yard.scan(first.code).card["origin"]["words"]
    assert (told[second.code].sticks, told[second.code].thing_id) == (3, second.id)


def test_wood_that_is_used_up_stays_at_home_and_what_was_handed_over_comes_along(yard: Yard) -> None:
    (bundle,) = yard.cut(4)
    child = yard.hand_over(bundle.id, 4, yard.cast.guest_id)

    assert {tag.code for tag in packed(yard).tags} == {child.code}


def test_a_lost_tag_says_which_one_replaced_it(yard: Yard) -> None:
    (bundle,) = yard.cut(4)
    replaced = yard.writer.write_now(tags.replace_tag, yard.cast.host, bundle.code)

    told = {tag.code: tag.says for tag in packed(yard).tags}

    assert told[replaced.lost] == yard.scan(replaced.lost).answer
    assert "was reported lost" in told[replaced.lost]


def test_a_stop_is_in_the_pack_on_the_tree_and_on_its_wood(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.stop()

    pack = packed(yard)

    (tree,), (tag,) = pack.trees, pack.tags
    assert tree.stopped and tree.refused.startswith("Cut nothing: a disease or pest is suspected")
    assert (
        tree.says
        == "Cut no wood from this tree: "
        + tree.refused.removeprefix("Cut nothing: ").rstrip(".")
        + ". It is ‘Gala’, apple."
    )
    assert (tag.state, tag.says.startswith("Do not use this wood")) == ("stopped", True)
    assert bundle.code == tag.code


def test_the_owners_word_binds_others_and_not_the_owner(yard: Yard) -> None:
    told = {"may_cut": "no", "owner_id": yard.cast.member.party_id}
    make_tree(yard.writer, yard.cast.steward, yard.orchard, **told)

    other, own = (packed(yard, who).trees[-1] for who in ("collector", "member"))

    assert (other.rule, other.refused) == (
        MayCut.NO,
        "Cut nothing: its owner does not want this tree cut.",
    )
    assert (own.rule, own.refused) == (MayCut.YES, "")


@pytest.mark.parametrize(
    ("told", "begins"),
    [
        ({"stop": "a name is in doubt", "contract": True, "protected": True}, "Cut nothing: a name"),
        ({"contract": True, "protected": True}, "Cut nothing: this tree was bought"),
        ({"protected": True}, "Cut nothing: the variety is protected until 3 May 2027."),
        ({}, ""),
    ],
)
def test_the_gravest_reason_is_told(told: dict[str, object], begins: str) -> None:
    whole = {"stop": "", "contract": False, "protected": False, "protected_until": date(2027, 5, 3), **told}

    said = why_not_cut(MayCut.YES, yours=False, **whole)

    assert said.startswith(begins) and bool(said) == bool(begins)
    assert rule_for(MayCut.ASK, yours=True) is MayCut.YES


@pytest.mark.parametrize(
    ("latitudes", "today", "until"),
    [
        # Late summer: 122 days before the shortest day, as chill is counted from (judgement, `science.seasons`).
        ([54.4], date(2026, 2, 14), date(2026, 8, 21)),
        ([-41.0], date(2026, 7, 1), date(2027, 2, 19)),
        ([54.4, -41.0], date(2026, 2, 14), date(2026, 2, 19)),
        ([], date(2026, 2, 14), date(2026, 2, 14) + timedelta(days=SEASON_DAYS)),
        ([3.0], date(2026, 2, 14), date(2026, 2, 14) + timedelta(days=SEASON_DAYS)),
    ],
)
def test_a_pack_is_of_its_season(latitudes: list[float], today: date, until: date) -> None:
    assert today + timedelta(days=good_for_days(latitudes, today)) == until


def test_no_person_and_no_address_is_taken_along(yard: Yard) -> None:
    (bundle,) = yard.cut(8)
    yard.hand_over(bundle.id, 2, yard.cast.guest_id)
    site = yard.orchard.site_id
    secret = SiteUpdate(directions="behind 4 Mill Lane", gate="Old Bert has the key")
    yard.writer.write_now(trees.change_site, yard.cast.steward, site, secret, 1)

    said = packed(yard, exact=False).model_dump_json()

    assert [word for word in (*NAMES.values(), "Mill Lane", "Old Bert") if word in said] == []
    assert all(tree.where == "" for tree in packed(yard, exact=False).trees)


def test_blank_tags_and_addresses_come_along(yard: Yard) -> None:
    proposed = yard.writer.write_now(
        tags.propose_address, yard.cast.administrator, PublicAddressCreate(host="TAGS.CLUB.EXAMPLE")
    )
    yard.writer.write_now(tags.confirm_address, yard.cast.administrator, proposed.id)
    batch = yard.writer.write_now(tags.print_blanks, yard.cast.host, BlankBatchCreate(blanks=3))
    (tag,) = yard.writer.write_now(
        tags.add_tags, yard.cast.steward, [TagCreate(kind="tree", thing_id=yard.tree_id)]
    )

    pack = packed(yard)

    with yard.database.reading() as session:
        assert sorted(pack.blanks) == sorted(list_blanks_left(session, batch.id))
    assert pack.hosts == ["TAGS.CLUB.EXAMPLE"]
    assert pack.trees[0].code == tag.code


def test_twenty_bundles_cost_as_many_statements_as_one_and_few_bytes(
    yard: Yard, statements: Statements
) -> None:
    yard.cut(1)
    statements.clear()
    packed(yard)
    few = len(statements)
    for _ in range(3):
        yard.cut(*[2] * 20)
        make_tree(yard.writer, yard.cast.steward, yard.orchard)
    statements.clear()

    body = packed(yard).model_dump_json().encode()

    assert (few, len(statements)) == (5, 5)
    assert len(gzip.compress(body)) < 60 * 61, "bytes for a tag, compressed"


def test_the_same_pack_is_not_sent_twice_and_strangers_get_none(client, yard: Yard) -> None:
    yard.cut(2)
    first = client("member").get("/api/day-pack")

    again = client("member").get("/api/day-pack", headers={"If-None-Match": first.headers["ETag"]})
    yard.cut(3)
    changed = client("member").get("/api/day-pack", headers={"If-None-Match": first.headers["ETag"]})

    assert (first.status_code, again.status_code, changed.status_code) == (200, 304, 200)
    assert first.headers["Cache-Control"] == "private, no-cache"
    assert client("stranger").get("/api/day-pack").status_code == 401
