"""Rights, names, passwords, areas and invitations, as plain decisions."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest

from service.lib.errors import NotAllowed
from service.members import rules
from service.members.rules import (
    AreaFacts,
    AreaPermitFacts,
    InvitationFacts,
    May,
    PartyKind,
    Role,
    fold_person,
)

NOW = datetime(2026, 2, 14, 10, 0, tzinfo=UTC)
HERE = AreaFacts(uuid4(), "North Vale")
THERE = AreaFacts(uuid4(), "South Vale")


def answer(*, allows: bool, genus: str = "", on: int = 1) -> AreaPermitFacts:
    return AreaPermitFacts(uuid4(), HERE.id, THERE.id, "PH 1", allows, genus, date(2026, 2, on), None)


@pytest.mark.parametrize(
    "role, right, allowed",
    [
        (Role.MEMBER, May.READ, True),
        (Role.MEMBER, May.GRAFT, True),
        (Role.MEMBER, May.HAND_OVER, False),
        (Role.MEMBER, May.ACT_FOR, False),
        (Role.MEMBER, May.PEOPLE, False),
        (Role.COLLECTOR, May.COLLECT, True),
        (Role.HOST, May.COLLECT, False),
        (Role.HOST, May.ACT_FOR, True),
        (Role.STEWARD, May.PEOPLE, True),
        (Role.STEWARD, May.RELEASE, False),
        (Role.HEALTH_STEWARD, May.RELEASE, True),
        (Role.HEALTH_STEWARD, May.PEOPLE, False),
        (Role.STEWARD, May.ADMINISTER, False),
        (Role.ADMINISTRATOR, May.ADMINISTER, True),
    ],
)
def test_each_role_may_do_its_own_work(role, right, allowed):
    assert (right in rules.may_of({role})) is allowed


def test_an_administrator_may_do_everything_and_nobody_without_a_role_anything():
    assert rules.may_of({Role.ADMINISTRATOR}) == frozenset(May)
    assert rules.may_of(()) == frozenset()


@pytest.mark.parametrize(
    "giver, given, allowed",
    [
        (Role.STEWARD, [Role.MEMBER, Role.COLLECTOR, Role.HOST], True),
        (Role.STEWARD, [Role.STEWARD], True),
        (Role.STEWARD, [Role.HEALTH_STEWARD], False),
        (Role.STEWARD, [Role.MEMBER, Role.ADMINISTRATOR], False),
        (Role.ADMINISTRATOR, list(Role), True),
        (Role.MEMBER, [], True),
    ],
)
def test_nobody_gives_a_role_that_may_do_more_than_they(giver, given, allowed):
    rights = rules.may_of({giver})

    assert rules.can_give(rights, given) is allowed
    if allowed:
        rules.check_may_give(rights, given)
    else:
        with pytest.raises(rules.MayNotGive):
            rules.check_may_give(rights, given)


@pytest.mark.parametrize(
    "role, kind, allowed",
    [
        (Role.HOST, PartyKind.GUEST, True),
        (Role.HOST, PartyKind.MEMBER, False),
        (Role.HOST, PartyKind.CLUB, False),
        (Role.MEMBER, PartyKind.GUEST, False),
        (Role.STEWARD, PartyKind.CLUB, True),
    ],
)
def test_guests_are_added_at_the_table_and_members_by_a_steward(role, kind, allowed):
    rights = rules.may_of({role})

    assert rules.can_add_party(rights, kind) is allowed
    if allowed:
        rules.check_may_add_parties(rights, [kind])
    else:
        with pytest.raises(NotAllowed):
            rules.check_may_add_parties(rights, [kind])


@pytest.mark.parametrize(
    "own, fields, steward, allowed",
    [
        (True, ["contact"], False, True),
        (True, ["name", "keep_contact_for_recall"], False, True),
        (True, ["area_id"], False, False),
        (True, ["kind"], False, False),
        (False, ["contact"], False, False),
        (False, ["area_id", "kind", "note"], True, True),
    ],
)
def test_people_change_their_own_contact_and_stewards_the_rest(own, fields, steward, allowed):
    rights = rules.may_of({Role.STEWARD if steward else Role.MEMBER})

    assert rules.can_change_party(rights, own=own, fields=fields) is allowed
    if allowed:
        rules.check_may_change_party(rights, own=own, fields=fields)
    else:
        with pytest.raises(rules.NotYours):
            rules.check_may_change_party(rights, own=own, fields=fields)


@pytest.mark.parametrize(
    "told, folded",
    [
        ("Łucja  Øst", "lucja ost"),
        ("JOSÉ Ibáñez", "jose ibanez"),
        ("Groß", "gross"),
        ("Ann\u200bika", "annika"),
        ("O'Brien-Şahin", "o'brien-sahin"),
        ("אילנה", "אילנה"),
        ("🌱 Ivy", "🌱 ivy"),
        ("ﬁona", "fiona"),
    ],
)
def test_names_are_folded_for_searching(told, folded):
    assert fold_person(told) == folded


def test_a_folded_name_fits_its_column_however_it_unfolds():
    assert len(fold_person("ﷺ" * 300)) <= rules.LONGEST_FOLDED


@pytest.mark.parametrize(
    "password, good",
    [
        ("rowan ladder frost", True),
        ("nine sign", False),
        ("ten signs!", True),
        ("aaaaaaaaaaaa", False),
        ("Marta Quíll", False),
        ("marta.quill@club.test", False),
        ("x" * 100 + "y" * 101, False),
        ("木" * 5 + "の芽を接ぐ", True),
    ],
)
def test_a_password_is_long_and_not_the_name(password, good):
    names = ("Marta Quill", "marta.quill@club.test")

    assert rules.can_be_password(password, names) is good
    if good:
        rules.check_password(password, names)
    else:
        with pytest.raises(rules.WeakPassword):
            rules.check_password(password, names)


@pytest.mark.parametrize(
    "start, end, permit, allowed",
    [
        (HERE, HERE, None, True),
        (HERE, THERE, None, False),
        (HERE, THERE, answer(allows=True), True),
        (HERE, THERE, answer(allows=False), False),
        (HERE, None, None, False),
        (HERE, None, answer(allows=True), False),
        (None, THERE, None, False),
        (None, None, None, True),
    ],
)
def test_wood_crosses_only_with_the_authoritys_yes(start, end, permit, allowed):
    assert rules.can_cross(start, end, permit) is allowed
    if allowed:
        rules.check_may_cross(start, end, permit)
    else:
        with pytest.raises(rules.CrossesArea) as refused:
            rules.check_may_cross(start, end, permit)
        assert "authority" in refused.value.todo or "area" in refused.value.todo


def test_a_refused_crossing_names_both_areas_and_the_step_that_lifts_it():
    with pytest.raises(rules.CrossesArea) as refused:
        rules.check_may_cross(HERE, THERE, None)

    assert refused.value.facts == {"from_area": "North Vale", "to_area": "South Vale"}
    assert "recorded its answer" in refused.value.todo


@pytest.mark.parametrize(
    "answers, allows",
    [
        ([], None),
        ([answer(allows=True)], True),
        ([answer(allows=True, on=1), answer(allows=False, on=2)], False),
        ([answer(allows=False, on=1), answer(allows=True, on=2)], True),
        ([answer(allows=True, on=1), answer(allows=False, genus="Malus", on=1)], False),
        ([answer(allows=True, on=5), answer(allows=False, genus="Malus", on=1)], False),
        ([answer(allows=False, on=1), answer(allows=True, genus="Malus", on=2)], True),
        ([answer(allows=False, on=3), answer(allows=True, genus="Malus", on=2)], False),
        ([answer(allows=False, on=2), answer(allows=True, on=2)], False),
        ([answer(allows=False, on=2), answer(allows=True, genus="Malus", on=2)], False),
    ],
)
def test_of_several_answers_the_one_for_the_genus_counts_unless_a_newer_one_says_no(answers, allows):
    decided = rules.decide_permit(answers)

    assert (decided.allows if decided else None) is allows


@pytest.mark.parametrize(
    "changed, state",
    [
        ({}, "open"),
        ({"used_at": NOW}, "used"),
        ({"revoked_at": NOW}, "revoked"),
        ({"expires_at": NOW}, "expired"),
        ({"used_at": NOW, "expires_at": NOW - timedelta(days=1)}, "used"),
    ],
)
def test_an_invitation_is_open_until_used_revoked_or_expired(changed, state):
    known = {"expires_at": NOW + timedelta(days=1), "used_at": None, "revoked_at": None, **changed}
    invitation = InvitationFacts(uuid4(), None, "", (Role.MEMBER,), account_id=None, sign_in_name="", **known)

    assert rules.can_accept(invitation, NOW) is (state == "open")
    if state == "open":
        rules.check_can_accept(invitation, NOW)
    else:
        with pytest.raises(rules.InvitationGone) as gone:
            rules.check_can_accept(invitation, NOW)
        assert gone.value.facts == {"state": state}


def test_a_guest_given_a_role_is_a_member():
    assert rules.kind_with_roles(PartyKind.GUEST, [Role.MEMBER]) is PartyKind.MEMBER
    assert rules.kind_with_roles(PartyKind.GUEST, []) is PartyKind.GUEST
    assert rules.kind_with_roles(PartyKind.CLUB, [Role.MEMBER]) is PartyKind.CLUB


# The lines that browsers send are from memory.
@pytest.mark.parametrize(
    "told, name",
    [
        ("Mozilla/5.0 (Android 14; Mobile; rv:128.0) Gecko/128.0 Firefox/128.0", "Firefox on Android"),
        (
            (
                "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
                "Version/17.5 Mobile/15E148 Safari/604.1"
            ),
            "Safari on an iPhone",
        ),
        (
            (
                "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) "
                "Chrome/126.0.0.0 Safari/537.36 Edg/126.0.0.0"
            ),
            "Edge on Windows",
        ),
        ("curl/8.5.0", "curl/8.5.0"),
        ("", ""),
    ],
)
def test_a_browser_is_named_as_people_know_it(told, name):
    assert rules.name_device(told) == name
