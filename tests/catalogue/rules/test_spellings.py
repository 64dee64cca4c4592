"""Spellings made comparable."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.catalogue.rules import fold_name, score_name, trigrams_of


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Cox's Orange Pippin", "COXS ORANGE PIPPIN"),
        ("Cox’s Orange Pippin", "Cox's Orange-Pippin"),
        ("Schöner aus Boskoop", "Schoener aus Boskoop"),
        ("Weißer Klarapfel", "Weisser Klarapfel"),
        ("Mère de Ménage", "mere de menage"),
        ("Gråsten", "Grasten"),
        ("Łutówka", "Lutowka"),
        ("Crişana", "Crisana"),
        ("Saint Julien A", "St. Julien A"),
        ("Beurré d'Anjou", "BEURRE D ANJOU"),
        ("Große Grüne Reneklode", "grosse gruene reneklode"),
        ("Köröser", "Korøser"),
        ("ﬁg", "fig"),
        ("M.9", "m 9"),
    ],
)
def test_two_ways_of_typing_one_name_fold_alike(one: str, other: str) -> None:
    assert fold_name(one) == fold_name(other)


@pytest.mark.parametrize(
    ("one", "other"), [("Bosc", "Boskoop"), ("Fuji", "Fuyu"), ("M.9", "M.26"), ("Антоновка", "Бабушкино")]
)
def test_different_names_stay_different(one: str, other: str) -> None:
    assert fold_name(one) != fold_name(other)


@pytest.mark.parametrize("nothing", ["", "  ", "🍎🍐", "''", "—", "\u200f"])
def test_what_has_no_letter_folds_to_nothing(nothing: str) -> None:
    assert fold_name(nothing) == "" and trigrams_of(fold_name(nothing)) == frozenset()


def test_other_scripts_keep_their_letters() -> None:
    assert fold_name("Антоновка") == "антоновка"
    assert fold_name("ふじ") != ""


def test_trigrams_have_two_blanks_before_a_word_and_one_behind() -> None:
    # The padding PostgreSQL documents for its own trigrams (pg_trgm, show_trgm('cat')).
    assert trigrams_of("cat") == {"  c", " ca", "cat", "at "}
    assert trigrams_of("cat cat") == trigrams_of("cat")


@given(st.text(max_size=120))
def test_whatever_is_typed_a_folded_name_is_words_of_letters_and_digits(name: str) -> None:
    folded = fold_name(name)

    assert folded == " ".join(folded.split()) and all(sign.isalnum() or sign == " " for sign in folded)
    assert all(len(three) == 3 for three in trigrams_of(folded))


@given(st.text(alphabet="abcdeéèöüåñ 'oOAEU", max_size=60))
def test_capitals_never_matter(name: str) -> None:
    assert fold_name(name) == fold_name(name.upper())


def test_the_same_name_scores_highest_then_a_beginning_then_a_word_inside_then_a_likeness() -> None:
    def score(typed: str, name: str) -> float:
        mine, its = trigrams_of(typed), trigrams_of(name)
        return score_name(typed, name, len(mine & its), len(mine), len(its))

    ordered = ["boskoop", "boskoop glory", "roter boskoop", "boskop", "bosc"]

    assert sorted(ordered, key=lambda name: -score("boskoop", name)) == ordered
    assert score("boskoop", "jonathan") == 0
    assert score_name("", "x", 0, 0, 3) == 0
