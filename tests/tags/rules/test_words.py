"""What people are told of a code that is none."""

import pytest

from service.lib.codes import parse_code
from service.tags.rules.words import explain_typed


@pytest.mark.parametrize(("typed", "said"), [
    ("7K3P9M2", "A code has 8 signs; 7 were given."),
    ("7", "A code has 8 signs; 1 was given."),
    ("", "A code has 8 signs; none were given."),
    ("7K*P9M2A", "“*”, the 3rd sign, is never used in a code."),
    ("*K3P9M2A", "“*”, the 1st sign, is never used in a code."),
    ("7K3P9M2A7K3P9M2A77777*", "“*”, the 22nd sign, is never used in a code."),
    ("7K3P9M2A7K3*", "“*”, the 12th sign, is never used in a code."),
])  # fmt: skip
def test_the_fault_is_said_in_words(typed: str, said: str) -> None:
    problem = explain_typed(parse_code(typed))

    assert problem.detail == said
    assert problem.field == "code"
    assert "suggestion" not in problem.facts


def test_a_wrong_check_sign_is_told_from_the_rest() -> None:
    assert explain_typed(parse_code("00000000")).facts["fault"] == "check sign wrong"


def test_a_correction_is_offered_only_where_exactly_one_known_code_fits() -> None:
    typed = parse_code("7K3P9M2")

    assert explain_typed(typed, ["7K3P9M2A"]).facts["suggestion"] == "7K3P9M2A"
    assert explain_typed(typed, ["7K3P9M2A"]).detail.endswith("Was 7K3P 9M2A meant?")
    assert "suggestion" not in explain_typed(typed, ["7K3P9M2A", "7K3P9M2B"]).facts


def test_a_long_nonsense_is_not_sent_back_whole() -> None:
    assert len(str(explain_typed(parse_code("x" * 5000)).facts["typed"])) == 60
