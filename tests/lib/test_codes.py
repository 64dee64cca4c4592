"""Codes and their check sign, against ISO/IEC 7064 as python-stdnum implements it."""

import random
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from service.lib import codes
from service.lib.codes import (
    ALPHABET,
    Fault,
    TypedCode,
    check_sign,
    group_code,
    is_code,
    make_code,
    parse_code,
    suggest_codes,
)


def _sample(count: int, seed: int = 7) -> list[str]:
    chance = random.Random(seed)
    bodies = ("".join(chance.choice(ALPHABET) for _ in range(codes.RANDOM_SIGNS)) for _ in range(count))
    return [body + check_sign(body) for body in bodies]


def test_the_alphabet_has_31_signs_and_none_that_is_misread() -> None:
    assert len(ALPHABET) == len(set(ALPHABET)) == 31
    assert not set("ILOSU") & set(ALPHABET)


def test_check_signs_equal_those_of_python_stdnum() -> None:
    # python-stdnum, module stdnum.iso7064.mod_37_2: any "Mod x, 2" system by its alphabet (ISO/IEC 7064, pure, radix 2).
    for code in _sample(2000):
        assert mod_37_2.calc_check_digit(code[:-1], alphabet=ALPHABET) == code[-1]
        assert mod_37_2.is_valid(code, alphabet=ALPHABET)
        assert is_code(code)


def test_python_stdnum_and_we_agree_on_random_signs_fit_or_not() -> None:
    chance = random.Random(11)
    for _ in range(5000):
        signs = "".join(chance.choice(ALPHABET) for _ in range(codes.LENGTH))
        assert is_code(signs) == mod_37_2.is_valid(signs, alphabet=ALPHABET)


def test_every_single_wrong_sign_is_found() -> None:
    tried = missed = 0
    for code in _sample(200):
        for wrong in codes._with_one_changed(code) - {code}:
            tried += 1
            missed += is_code(wrong)
    assert tried == 200 * codes.LENGTH * 30
    assert missed == 0


def test_every_swap_of_two_different_neighbours_is_found() -> None:
    tried = missed = 0
    for code in _sample(3000):
        for wrong in codes._with_neighbours_swapped(code) - {code}:
            tried += 1
            missed += is_code(wrong)
    assert tried > 18_000
    assert missed == 0


def test_new_codes_are_sound_and_hardly_ever_the_same() -> None:
    made = [make_code() for _ in range(2000)]

    assert all(is_code(code) for code in made)
    assert len(set(made)) == 2000


# Unicode Character Database, general category: Pd dashes, Cf signs that only steer how text is laid out.
PASTED_ALONG = (
    0x00AD,
    0x2010,
    0x2011,
    0x2012,
    0x2013,
    0x2014,
    0x200B,
    0x200C,
    0x200D,
    0x200E,
    0x200F,
    0x2060,
    0xFEFF,
)


def test_dashes_and_signs_nobody_sees_that_a_paste_brings_along_are_left_out() -> None:
    code = make_code()

    for point in PASTED_ALONG:
        sign = chr(point)
        assert unicodedata.category(sign) in ("Pd", "Cf")
        assert parse_code(f"{sign}{code[:4]}{sign}{code[4:]}{sign}").code == code, f"U+{point:04X}"


def test_a_code_is_printed_in_two_groups() -> None:
    assert group_code("7K3P9M2A") == "7K3P 9M2A"


@pytest.mark.parametrize("change", [
    lambda c: c.lower(),
    lambda c: f" {c[:4]} {c[4:]} ",
    lambda c: f"{c[:4]}-{c[4:]}",
    lambda c: f"{c[:2]}–{c[2:4]}—{c[4:]}",
    lambda c: f"\u200e{c[:4]}\u00a0{c[4:]}\n",
    lambda c: c.replace("1", "I").replace("0", "O").replace("5", "S").replace("V", "U"),
    lambda c: c.replace("1", "l").replace("0", "o").replace("5", "s").replace("V", "u"),
])  # fmt: skip
def test_spaces_hyphens_case_and_look_alikes_are_forgiven(change) -> None:
    for code in _sample(300):
        typed = parse_code(change(code))
        assert (typed.code, typed.fault) == (code, None)


@pytest.mark.parametrize(("typed", "fault", "sign", "position"), [
    ("", Fault.LENGTH, "", 0),
    ("   -- ", Fault.LENGTH, "", 0),
    ("7K3P9M2", Fault.LENGTH, "", 0),
    ("7K3P9M2A0", Fault.LENGTH, "", 0),
    ("7K3P-9M*A", Fault.SIGN, "*", 7),
    ("é7K3P9M2", Fault.SIGN, "é", 1),
    ("7K3P9M2Α", Fault.SIGN, "Α", 8),  # a Greek capital alpha
    ("ß7K3P9M", Fault.SIGN, "ß", 1),
    ("ı7K3P9M2", Fault.SIGN, "ı", 1),  # a Turkish dotless i, whose capital is our I
    ("٣٣٣٣٣٣٣٣", Fault.SIGN, "٣", 1),
    ("🍏7K3P9M2", Fault.SIGN, "🍏", 1),
])  # fmt: skip
def test_what_is_wrong_is_named(typed: str, fault: Fault, sign: str, position: int) -> None:
    read = parse_code(typed)

    assert (read.fault, read.sign, read.position, read.code) == (fault, sign, position, None)


def test_a_mistyped_code_is_told_from_one_of_wrong_length() -> None:
    code = _sample(1)[0]
    wrong = ("0" if code[0] != "0" else "1") + code[1:]

    assert parse_code(wrong).fault is Fault.CHECK


def test_the_true_code_is_among_the_suggestions_after_any_single_slip() -> None:
    for code in _sample(60):
        slips = codes._with_one_changed(code) | codes._with_neighbours_swapped(code)
        slips |= {code[:i] + code[i + 1 :] for i in range(len(code))}
        slips |= {code[:i] + s + code[i:] for i in range(len(code) + 1) for s in ALPHABET}
        for slip in slips - {code}:
            read = parse_code(slip)
            assert read.fault in (Fault.CHECK, Fault.LENGTH)
            assert code in read.suggestions()


def test_a_sign_outside_the_alphabet_is_corrected_too() -> None:
    code = _sample(1)[0]

    assert code in parse_code(code[:3] + "*" + code[4:]).suggestions()


def test_suggestions_are_few_sound_and_in_order() -> None:
    for code in _sample(50):
        wrong = sorted(codes._with_one_changed(code) - {code})[3]
        offered = suggest_codes(wrong)
        assert len(offered) <= codes.LENGTH + (codes.LENGTH - 1)
        assert list(offered) == sorted(offered)
        assert all(is_code(o) for o in offered)


def test_a_code_that_is_fine_gets_no_suggestions() -> None:
    assert parse_code(_sample(1)[0]).suggestions() == ()


@given(st.text(max_size=30))
def test_any_text_is_read_without_an_error(text: str) -> None:
    read = parse_code(text)

    assert isinstance(read, TypedCode)
    assert (read.code is None) == (read.fault is not None)
    assert read.code is None or is_code(read.code)
