"""What may become of a blank tag, and how a batch is accounted for."""

from __future__ import annotations

import pytest

from service.lib.errors import Problem
from service.tags.rules.blanks import (
    AlreadyBound,
    BlankCount,
    NamedTwice,
    NoLongerBlank,
    can_bind,
    check_can_bind,
    check_can_give_up,
    check_named_once,
    count_blanks,
)
from service.tags.rules.labels import blank_label_words
from service.tags.rules.words import TAG_STEPS, TagState
from tests.builders.tags import make_codes

CODE, OTHER = make_codes(2)
BUNDLE = "the bundle ‘Kordia’, cut 14 Jan 2026"


@pytest.mark.parametrize(
    ("state", "hangs_on", "refusal"),
    [
        (TagState.BLANK, "", None),
        (TagState.BOUND, BUNDLE, AlreadyBound),
        (TagState.LOST, BUNDLE, AlreadyBound),
        (TagState.LOST, "", NoLongerBlank),
        (TagState.SPOILED, "", NoLongerBlank),
    ],
)
def test_only_a_blank_is_bound_and_a_refusal_names_what_it_hangs_on(
    state: TagState, hangs_on: str, refusal: type[Problem] | None
) -> None:
    assert can_bind(CODE, state, hangs_on) is (refusal is None)
    if refusal:
        with pytest.raises(refusal) as refused:
            check_can_bind(CODE, state, hangs_on)
        assert f"{CODE[:4]} {CODE[4:]}" in refused.value.detail
        assert hangs_on in refused.value.detail


@pytest.mark.parametrize(
    ("state", "hangs_on", "refusal"),
    [
        (TagState.BLANK, "", None),
        (TagState.BOUND, BUNDLE, AlreadyBound),
        (TagState.SPOILED, "", NoLongerBlank),
        (TagState.LOST, "", NoLongerBlank),
    ],
)
def test_only_a_blank_is_given_up(state: TagState, hangs_on: str, refusal: type[Problem] | None) -> None:
    if refusal is None:
        check_can_give_up(CODE, state, hangs_on)
        assert {TagState.SPOILED, TagState.LOST} <= TAG_STEPS[state]
    else:
        with pytest.raises(refusal):
            check_can_give_up(CODE, state, hangs_on)


def test_nothing_follows_a_tag_that_was_given_up() -> None:
    assert (TAG_STEPS[TagState.SPOILED], TAG_STEPS[TagState.LOST]) == (frozenset(), frozenset())


def test_a_tag_named_twice_is_refused() -> None:
    check_named_once([CODE, OTHER])
    with pytest.raises(NamedTwice):
        check_named_once([CODE, OTHER, CODE])


def test_every_blank_is_counted_once_and_one_bound_before_it_was_lost_as_bound() -> None:
    found = [
        (TagState.BLANK, False, 40), (TagState.BOUND, True, 50), (TagState.LOST, True, 3), (TagState.LOST, False, 2),
        (TagState.SPOILED, False, 5),
    ]  # fmt: skip

    count = count_blanks(found)

    assert count == BlankCount(printed=100, bound=53, spoiled=5, lost=2, left=40)
    assert count.printed == count.bound + count.spoiled + count.lost + count.left


def test_a_blank_says_nothing_but_what_to_write_on_it() -> None:
    words = blank_label_words()

    assert words.pencil == ("variety", "cut on", "tree", "sticks")
    assert (words.heading, words.name, words.large, words.details, words.rights) == ("", "", "", (), "")
