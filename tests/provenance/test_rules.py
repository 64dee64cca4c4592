"""Pure rules: how far back a stop reaches, which stop is told first, what is said, who is told first."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest

from service.bundles.rules import BundleFacts, MoveKind, StickCount
from service.members.rules import May, PartyKind, sees_people
from service.provenance.rules.card import LookFacts, NameFacts, look_words, names_of, rights_of
from service.provenance.rules.lineage import HOW, THING_OF, Link
from service.provenance.rules.offers import Act, Level, level_of, offers_for, offers_for_bundle
from service.provenance.rules.stops import (
    NotYoursToConfirm,
    StopOnWood,
    bound_since,
    can_confirm,
    check_can_confirm,
    gravest,
    keep_until,
    stop_says,
    stop_todo,
    winters_to_bind,
)
from service.provenance.rules.telling import LONGEST_WHY, PartyFound, Tie, TieFacts, plan_telling, why_told
from service.provenance.rules.timeline import Event, EventKind, MoveFacts, in_order, move_words
from service.provenance.rules.words import count, listed, sentence
from service.tags.rules.words import TagKind
from service.trees.rules import StopReason, StopState

NOW = datetime(2026, 2, 14, 10, tzinfo=UTC)


@pytest.mark.parametrize(
    "reason, told, winters",
    [
        (StopReason.HEALTH, None, 3), (StopReason.HEALTH, 0, 0), (StopReason.HEALTH, 7, 7),
        (StopReason.NAME, None, None), (StopReason.RIGHTS, None, None), (StopReason.NAME, 2, 2),
    ],
)  # fmt: skip
def test_how_many_winters_a_stop_binds(reason: StopReason, told: int | None, winters: int | None) -> None:
    assert winters_to_bind(reason, told, of_club=3) == winters


@pytest.mark.parametrize(
    "today, winters, since",
    [
        # North: asked in February, the winter of 2022/23 is the third before this one; its first cuts fall in November 2022.
        (date(2026, 2, 14), 3, date(2022, 2, 14)),
        # North: asked in October, the last winter is 2025/26; none before it is cut off.
        (date(2026, 10, 1), 3, date(2022, 10, 1)),
        # South: asked in January; winters are in the middle of the calendar year.
        (date(2026, 1, 31), 0, date(2025, 1, 31)),
        (date(2028, 2, 29), 2, date(2025, 2, 28)),
        (date(2026, 2, 14), None, None),
    ],
)
def test_the_first_day_whose_cuts_are_bound(today: date, winters: int | None, since: date | None) -> None:
    assert bound_since(today, winters) == since


@pytest.mark.parametrize("asked_in", range(1, 13))
def test_every_winter_asked_for_is_bound_whole_on_both_hemispheres(asked_in: int) -> None:
    """Dormant wood is cut from November to February in the north, from May to August in the south (common practice, no source)."""
    today, winters = date(2026, asked_in, 28), 3
    since = bound_since(today, winters)
    for first_month in (11, 5):
        seasons = [
            date(year, first_month, 1) for year in range(2018, 2027) if date(year, first_month, 1) <= today
        ]
        this, *earlier = reversed(seasons)

        assert this >= since
        assert all(start >= since for start in earlier[:winters])


def test_how_long_a_contact_stays_sealed() -> None:
    assert keep_until(date(2026, 2, 14), 3) == date(2030, 2, 14)
    assert keep_until(date(2028, 2, 29), 0) == date(2029, 2, 28)


@pytest.mark.parametrize(
    "rights, state, may",
    [
        ({May.STOP}, StopState.SUSPECTED, True), ({May.STOP}, StopState.CONFIRMED, False),
        ({May.STOP, May.RELEASE}, StopState.CONFIRMED, True),
    ],
)  # fmt: skip
def test_who_may_open_a_confirmed_stop(rights: set[May], state: StopState, may: bool) -> None:
    assert can_confirm(frozenset(rights), state) == may
    if may:
        check_can_confirm(frozenset(rights), state)
    else:
        with pytest.raises(NotYoursToConfirm):
            check_can_confirm(frozenset(rights), state)


def test_health_is_told_before_rights_before_names_and_what_was_found_first() -> None:
    def stop(reason: str, state: str, on: int = 1) -> StopOnWood:
        return StopOnWood(StopReason(reason), StopState(state), date(2026, 2, on))

    ill, found = stop("health", "suspected"), stop("health", "confirmed", 9)
    name, right = stop("name", "confirmed"), stop("rights", "suspected")

    assert gravest([name, right, ill, found]) == found
    assert gravest([name, right]) == right
    assert gravest([]) is None


@pytest.mark.parametrize("reason", list(StopReason))
@pytest.mark.parametrize("state", [StopState.SUSPECTED, StopState.CONFIRMED])
def test_every_stop_has_its_words_and_what_to_do(reason: StopReason, state: StopState) -> None:
    assert stop_says(StopOnWood(reason, state, date(2026, 2, 1))).endswith("since 1 February 2026")
    assert "club" in stop_todo(reason).lower()


def test_a_health_stop_says_the_usual_cautions_and_defers_to_the_authority() -> None:
    said = stop_todo(StopReason.HEALTH)

    assert all(word in said for word in ("compost", "meeting", "plant-health authority", "throw nothing"))


def test_whoever_is_nearest_to_the_wood_is_told_first() -> None:
    near, far, gone = (
        PartyFound(uuid4(), PartyKind.MEMBER, name, forgotten)
        for name, forgotten in (("Zoe", False), ("Abel", False), ("", True))
    )
    ties = [
        TieFacts(far.id, Tie.STORES), TieFacts(near.id, Tie.GRAFTED, 2), TieFacts(near.id, Tie.HOLDS, 1, 5), TieFacts(gone.id, Tie.HELD),
        TieFacts(uuid4(), Tie.HOLDS),
    ]  # fmt: skip

    told = plan_telling(ties, [far, near, gone])

    assert [one.name for one in told] == ["Zoe", "holder forgotten", "Abel"]
    assert told[0].why == "Holds 1 bundle of it (5 sticks) and made 2 grafts with it."
    assert not told[0].is_silent


@pytest.mark.parametrize(
    "ties, silent",
    [([Tie.HOLDS], True), ([Tie.HOLDS, Tie.GRAFTED], False), ([Tie.HELD], False), ([Tie.HAS_PLANT], False)],
)
def test_who_holds_wood_and_was_never_heard_of_is_silent(ties: list[Tie], silent: bool) -> None:
    party = PartyFound(uuid4(), PartyKind.GUEST, "Pia Holm", False)

    (told,) = plan_telling([TieFacts(party.id, tie) for tie in ties], [party])

    assert told.is_silent == silent


def test_a_reason_fits_its_column_with_every_tie() -> None:
    party = uuid4()

    assert len(why_told([TieFacts(party, tie, 99_999, 99_999) for tie in Tie])) <= LONGEST_WHY


@pytest.mark.parametrize("kind", list(MoveKind))
def test_every_movement_of_sticks_has_its_sentence(kind: MoveKind) -> None:
    said = move_words(MoveFacts(kind, 3, "bundle", "7K3P9M2A", "Ada Holt", "why"))

    assert said[0].isupper() or said[0].isdigit()
    assert said.endswith("why.")


def test_events_stand_in_the_order_they_were_done() -> None:
    late = Event(EventKind.LOOK, "late", NOW - timedelta(days=3), NOW)
    first, second = (Event(EventKind.MOVE, str(place), NOW, NOW, place) for place in (1, 2))

    assert in_order([second, first, late]) == [late, first, second]
    assert (late.late, first.late) == (True, False)


def _bundle(**told: object) -> BundleFacts:
    facts = {
        "id": uuid4(), "code": "7K3P9M2A", "collection_id": uuid4(), "parent_id": None, "holder_id": None, "is_flag": False,
        "count": StickCount(came_in=5), "open_stops": 0, "sticks_at_start": 5, "length_mm": None, "diameter_mm": None, "unfinished": False,
        "made_at": NOW, "note": "", "version": 1, **told,
    }  # fmt: skip
    return BundleFacts(**facts)


@pytest.mark.parametrize(
    "told, refused",
    [
        ({}, set()),
        (
            {"count": StickCount(came_in=5, passed_on=5)},
            {Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.CUT_TO_LENGTH, Act.DISCARD},
        ),
        (
            {"open_stops": 1, "holder_id": uuid4()},
            {
                Act.SPLIT,
                Act.HAND_OVER,
                Act.GRAFT,
                Act.CUT_TO_LENGTH,
                Act.DISCARD,
                Act.PUT_AWAY,
                Act.TAKE_BACK,
            },
        ),
        (
            {"count": StickCount(came_in=5, promised=5)},
            {Act.SPLIT, Act.HAND_OVER, Act.GRAFT, Act.CUT_TO_LENGTH, Act.DISCARD},
        ),
    ],
)
def test_what_is_offered_of_a_bundle(told: dict[str, object], refused: set[Act]) -> None:
    offers = offers_for_bundle(frozenset(May), _bundle(**told), own=False, now=NOW)

    assert {offer.act for offer in offers if not offer.allowed} == refused
    assert all(offer.why_not for offer in offers if not offer.allowed)


def test_a_member_is_offered_grafting_for_their_own_wood_only() -> None:
    rights = frozenset({May.READ, May.GRAFT})

    assert [offer.act for offer in offers_for_bundle(rights, _bundle(), own=True, now=NOW)] == [Act.GRAFT]
    assert offers_for_bundle(rights, _bundle(), own=False, now=NOW) == []


@pytest.mark.parametrize(
    "facts, refused",
    [
        ({"stopped": False, "took": True}, []), ({"stopped": True, "took": True}, [Act.CHANGE_HANDS, Act.PLANT]),
        ({"stopped": False, "took": False}, [Act.PLANT]),
        ({"stopped": False, "took": True, "planted": True}, []),
        ({"stopped": False, "took": False, "gone": True}, [Act.CHANGE_HANDS, Act.PLANT]),
    ],
)  # fmt: skip
def test_what_is_offered_of_a_plant(facts: dict[str, bool], refused: list[Act]) -> None:
    assert [
        offer.act for offer in offers_for(TagKind.PLANT, frozenset(May), **facts) if not offer.allowed
    ] == refused


@pytest.mark.parametrize(
    "rights, level, people",
    [
        (None, Level.STRANGER, False), ({May.READ, May.GRAFT}, Level.MEMBER, False), ({May.READ, May.STICKS}, Level.VOLUNTEER, False),
        ({May.STICKS, May.HAND_OVER}, Level.VOLUNTEER, True), ({May.RECALL}, Level.MEMBER, True),
    ],
)  # fmt: skip
def test_how_much_somebody_sees(rights: set[May] | None, level: Level, people: bool) -> None:
    assert level_of(None if rights is None else frozenset(rights)) is level
    assert sees_people(frozenset(rights or ())) == people


def test_every_step_of_a_lineage_has_its_word_and_every_link_its_thing() -> None:
    assert set(THING_OF) == set(Link)
    assert {link for step in HOW for link in step} == set(Link)


@pytest.mark.parametrize(
    "protection, until, no_propagation, said",
    [
        ("free", None, False, 0), ("protected", date(2031, 3, 1), False, 1), ("protected", None, True, 2), ("applied", None, False, 1),
        ("permission", None, False, 1), ("unknown", None, False, 0),
    ],
)  # fmt: skip
def test_what_is_said_of_rights(protection: str, until: date | None, no_propagation: bool, said: int) -> None:
    assert len(rights_of(protection, until, no_propagation=no_propagation)) == said


def test_small_words() -> None:
    assert [count(n, "stick") for n in (0, 1, 2)] == ["no sticks", "1 stick", "2 sticks"]
    assert [listed(part) for part in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]
    assert [sentence(text) for text in ("", " so it is ", "Is it?")] == ["", "So it is.", "Is it?"]
    assert names_of([f"‘{n}’" for n in range(9)], most=3) == "‘0’, ‘1’, ‘2’ and 6 more"
    assert (
        look_words(LookFacts(date(2026, 2, 1), "", True, None, False))
        == "The bark was wrinkled and it was not green under a scratch."
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (NameFacts("Walnut", "Juglans regia", as_told="Walnut, thin-shelled"), "“Walnut, thin-shelled”"),
        (NameFacts("Walnut", "Juglans regia", as_told="thin-shelled"), "“thin-shelled”, walnut"),
        (NameFacts("Apple", "Malus domestica", epithet="Gala", as_told="Apple, red"), "‘Gala’, apple"),
        (NameFacts("Apple", "Malus domestica"), "a variety without a name, apple"),
    ],
)  # fmt: skip
def test_a_scan_says_the_kind_once(name: NameFacts, words: str) -> None:
    assert name.short_with_kind == words
