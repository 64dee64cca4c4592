"""Fitting words into boxes, with a measure that counts signs: each is half its size wide."""

from hypothesis import given
from hypothesis import strategies as st

from service.tags.rules.fitting import (
    ELLIPSIS,
    MM_PER_PT,
    Fitted,
    fit_text,
    line_height_mm,
    runs_right_to_left,
    tidy,
)


def half(text: str) -> float:
    return len(text) * 0.5


def _fit(
    text: str, w: float = 40, h: float = 14, largest: float = 20, smallest: float = 6, lines: int = 9
) -> Fitted:
    return fit_text(text, w, h, half, largest_pt=largest, smallest_pt=smallest, most_lines=lines)


def test_a_short_name_stands_in_the_largest_size() -> None:
    assert _fit("Kordia") == Fitted(("Kordia",), 20)


def test_a_longer_name_shrinks_only_as_far_as_it_must() -> None:
    fitted = _fit("Bramley Seedling", lines=1)

    assert fitted.lines == ("Bramley Seedling",)
    assert half(fitted.lines[0]) * fitted.size_pt * MM_PER_PT <= 40
    assert half(fitted.lines[0]) * (fitted.size_pt + 0.5) * MM_PER_PT > 40


def test_words_go_on_a_second_line_rather_than_become_small() -> None:
    assert _fit("Ashmeads Kernel").lines == ("Ashmeads", "Kernel")


def test_a_line_may_end_after_a_hyphen() -> None:
    assert _fit("Gartenhaus-Kühlschrank").lines == ("Gartenhaus-", "Kühlschrank")


def test_what_fits_nowhere_is_cut_with_an_ellipsis_at_the_smallest_size() -> None:
    fitted = _fit("many words " * 60)

    assert fitted.cut and fitted.size_pt == 6
    assert fitted.lines[-1].endswith(ELLIPSIS)
    assert fitted.height_mm <= 14


def test_a_single_endless_word_is_broken_and_nothing_of_it_lost_before_the_cut() -> None:
    word = "".join(chr(97 + i % 26) for i in range(300))
    fitted = _fit(word)

    assert word.startswith("".join(fitted.lines).rstrip(ELLIPSIS))


def test_a_letter_is_never_parted_from_its_marks() -> None:
    fitted = _fit("x\u0323\u0302" * 300)

    assert all(not line.startswith(("\u0323", "\u0302")) for line in fitted.lines)


@given(st.text(max_size=320), st.floats(15, 60), st.floats(3, 20), st.integers(1, 5))
def test_no_text_is_wider_or_higher_than_its_box(text: str, w: float, h: float, lines: int) -> None:
    fitted = _fit(tidy(text), w, h, lines=lines)

    assert len(fitted.lines) <= lines
    assert all(half(line) * fitted.size_pt * MM_PER_PT <= w + 1e-9 for line in fitted.lines)
    assert fitted.height_mm <= max(h, line_height_mm(6)) + 1e-5


@given(st.text(max_size=120))
def test_where_nothing_is_cut_every_sign_is_there(text: str) -> None:
    fitted = _fit(tidy(text), 60, 30)

    if not fitted.cut:
        assert "".join(fitted.lines).replace(" ", "") == tidy(text).replace(" ", "")


def test_text_is_tidied_for_paper() -> None:
    assert tidy(" a\tb\r\n\u202ec\u200f ") == "a b c"
    assert tidy("e\u0301") == "é"
    assert tidy("a" + "\u0330" * 50).count("\u0330") == 3  # a tower of marks would leave its label
    assert tidy("می\u200cخواهم") == "می\u200cخواهم"  # Persian needs its joiner


def test_the_first_letter_with_a_direction_decides() -> None:
    # Unicode Standard Annex 9, rules P2 and P3.
    assert runs_right_to_left("‘תאנה’")
    assert runs_right_to_left("12 مشمش")
    assert not runs_right_to_left("‘Kordia’ תאנה")
    assert not runs_right_to_left("12 – 3")
