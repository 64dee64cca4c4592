"""Spellings made comparable: folded names, their trigrams, and how near one name is to what was typed."""

from __future__ import annotations

import re
import unicodedata
from enum import StrEnum

LONGEST_TYPED = 100


class NameKind(StrEnum):
    EPITHET = "epithet"
    SYNONYM = "synonym"
    TRANSLATION = "translation"
    TRADE_DESIGNATION = "trade_designation"
    DONORS_SPELLING = "donors_spelling"


# Letters that Unicode does not take apart into a plain letter and an accent.
_LETTERS = str.maketrans(
    {
        "ß": "ss",
        "æ": "ae",
        "œ": "oe",
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "ı": "i",
        "ħ": "h",
        "ŧ": "t",
        "ŋ": "n",
    }
)
_APOSTROPHES = "'`´‘’ʼʹ"
_SAINT = {"saint": "st", "sainte": "st", "ste": "st", "sankt": "st", "sant": "st", "san": "st"}


def fold_name(name: str) -> str:
    """Lower case, no accents, no punctuation: `Cox’s Orange Pippin` -> `coxs orange pippin`.

    Umlauts written out and written with dots come out alike (Schoener, Schöner), and so do saints (St, Saint, San).
    """
    text = unicodedata.normalize("NFKC", name).casefold().translate(_LETTERS)
    text = "".join(sign for sign in unicodedata.normalize("NFKD", text) if not unicodedata.combining(sign))
    text = re.sub(rf"(?<=\w)[{_APOSTROPHES}](?=s\b)", "", text)
    text = re.sub(r"ae|oe|ue", lambda found: found[0][0], text)
    words = "".join(sign if sign.isalnum() else " " for sign in text).split()
    return " ".join(_SAINT.get(word, word) for word in words)


def trigrams_of(folded: str) -> frozenset[str]:
    """Three letters in a row of every word, with two blanks before it and one behind."""
    found: set[str] = set()
    for word in folded.split():
        padded = f"  {word} "
        found.update(padded[i : i + 3] for i in range(len(padded) - 2))
    return frozenset(found)


# How much weighs what of the typed was found, and how much of the name was typed.
OF_TYPED, OF_BOTH = 0.45, 0.55


def score_name(typed: str, name: str, shared: int, typed_count: int, name_count: int) -> float:
    """How near a folded name is to what was typed, folded: 0 nothing in common, 1 all of it; more where it is the same.

    The search orders by the first part of this within SQL, so both databases rank alike.
    """
    if not typed_count or not name_count:
        return 0.0
    near = OF_TYPED * shared / typed_count + OF_BOTH * 2 * shared / (typed_count + name_count)
    if name == typed:
        return near + 1.0
    if name.replace(" ", "") == typed.replace(" ", ""):
        return near + 0.8
    if name.startswith(typed):
        return near + 0.4
    return near + (0.2 if f" {typed}" in f" {name}" else 0.0)
