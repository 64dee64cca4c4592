"""How a plant's name is written, after the International Code of Nomenclature for Cultivated Plants (ICNCP).

Botanical name in italics; Group in words, in round brackets when an epithet follows; cultivar epithet in single
quotation marks and upright; trade designation without quotation marks and in another type. In plain text, which
has one type only, the trade designation is set in capitals.

Source: ICNCP, 9th edition, Brickell et al. 2016, Scripta Horticulturae 18, as given in public summaries.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from html import escape

OPEN, CLOSE = "\u2018", "\u2019"
_QUOTES = "\"'`\u00b4\u2018\u2019\u201a\u201c\u201d\u201e\u00ab\u00bb\u2039\u203a"
_UPRIGHT = {"\u00d7", "x", "subsp.", "ssp.", "var.", "f.", "sp.", "spp.", "hybr."}


class Style(StrEnum):
    BOTANICAL = "botanical"
    UPRIGHT = "upright"
    GROUP = "group"
    EPITHET = "epithet"
    TRADE = "trade"


@dataclass(frozen=True)
class FormattedName:
    """A name in parts, each with its type."""

    parts: tuple[tuple[Style, str], ...]

    @property
    def plain(self) -> str:
        """For tags and text: one type only."""
        return " ".join(text.upper() if style is Style.TRADE else text for style, text in self.parts)

    @property
    def html(self) -> str:
        """For pages: escaped, each part in its own element, safe beside text that runs the other way."""
        return " ".join(_html_part(style, text) for style, text in self.parts)


def _html_part(style: Style, text: str) -> str:
    if style is Style.BOTANICAL:
        return f'<i class="botanical" lang="la">{escape(text)}</i>'
    if style is Style.UPRIGHT:
        return escape(text)
    return f'<bdi class="{style}">{escape(text)}</bdi>'


def format_botanical_name(name: str) -> FormattedName:
    """A botanical name; the sign of a hybrid and the words for ranks stand upright."""
    parts: list[tuple[Style, str]] = []
    for word in name.split():
        style = Style.UPRIGHT if word in _UPRIGHT else Style.BOTANICAL
        word = "\u00d7" if word == "x" else word
        if parts and parts[-1][0] is style:
            parts[-1] = (style, f"{parts[-1][1]} {word}")
        else:
            parts.append((style, word))
    return FormattedName(tuple(parts))


def format_cultivar_name(
    botanical_name: str, epithet: str = "", group: str = "", trade: str = ""
) -> FormattedName:
    """The whole name of a variety, e.g. Hydrangea macrophylla (Teller Group) ‘Fire Work Roze’."""
    parts = list(format_botanical_name(botanical_name).parts)
    group = re.sub(r"\s+Group$", "", group.strip())
    if group:
        parts.append((Style.GROUP, f"({group} Group)" if epithet else f"{group} Group"))
    if epithet:
        parts.append((Style.EPITHET, quote_epithet(epithet)))
    if trade:
        parts.append((Style.TRADE, typographic(trade)))
    return FormattedName(tuple(parts))


def page_name(epithet: str, trade: str = "") -> str:
    """The short name of lists and tags: the epithet in its quotation marks, then the trade designation."""
    return " ".join(
        part for part in (quote_epithet(epithet) if epithet else "", typographic(trade).upper()) if part
    )


def quote_epithet(epithet: str) -> str:
    return f"{OPEN}{typographic(clean_epithet(epithet))}{CLOSE}"


def typographic(text: str) -> str:
    """Typed apostrophes become the printer's."""
    return re.sub(r"['`\u00b4]", CLOSE, text)


def clean_epithet(typed: str) -> str:
    """An epithet without the quotation marks or the `cv.` it was typed with; an apostrophe inside stays."""
    text = " ".join(typed.split())
    text = re.sub(r"^(cv|c\.v)\.?\s+(?=\S)", "", text, flags=re.IGNORECASE)
    if len(text) > 2 and text[0] in _QUOTES and text[-1] in _QUOTES:
        text = text[1:-1].strip()
    return re.sub(r"[`\u00b4\u2018\u2019]", "'", text)


@dataclass(frozen=True)
class EpithetWarning:
    """A point of the Code an epithet may break; a warning, for old names are often exempt."""

    word: str
    text: str


# Sorting words that may stay small inside a name, in the languages old fruit is named in.
_SMALL = set(
    "a an and at by de d del della delle des der die das di du e en et for from in la le les l mit of on or "
    "the to und van vom von zu zum zur".split()
)
_BANNED = set(
    "cultivar form grex group hybrid improved maintenance mixture selection series sport strain transformed variety".split()
)  # from memory; that there is such a list since 1959 was read in a summary of the 9th edition
_SUPERLATIVE = re.compile(
    r"\b(best|finest|greatest|largest|biggest|earliest|latest|sweetest|most|tastiest)\b", re.IGNORECASE
)
_ALLOWED_SIGNS = re.compile(r"[^\w\s'’,!.\-/+&]", re.UNICODE)


def check_epithet(typed: str) -> list[EpithetWarning]:
    """What the Code would say of an epithet as it was typed. Never refuses: many old names are exempt.

    Length (30 since 1996), quotation marks, `cv.`, single letters and numerals, superlatives and capital words:
    ICNCP as above. Signs allowed since 1996: FAO, summary of the Code for the naming of poplars.
    """
    epithet = clean_epithet(typed)
    found = [EpithetWarning(word, text) for word, text, broken in _form_points(typed, epithet) if broken]
    found += [EpithetWarning(word, text) for word, text, broken in _word_points(epithet) if broken]
    return found


def _form_points(typed: str, epithet: str) -> list[tuple[str, str, bool]]:
    length = len(re.sub(r"\s", "", epithet))
    return [
        ("quotation_marks", "Leave the quotation marks out; they are added where the name is shown.",
         bool(re.search(r'["“”„«»]', typed)) or (len(typed.strip()) > 2 and typed.strip()[0] in _QUOTES and typed.strip()[-1] in _QUOTES)),
        ("cv", "“cv.” is no longer written before an epithet.", bool(re.match(r"\s*(cv|c\.v)\.?\s", typed, re.IGNORECASE))),
        ("too_long", f"It has {length} signs; a name given since 1996 has at most 30 without spaces.", length > 30),
        ("too_short", "A single letter, or numerals alone, make no epithet.",
         bool(epithet) and (bool(re.fullmatch(r"\w", epithet)) or bool(re.fullmatch(r"[\d\s.,-]+", epithet)))),
        ("signs", "A name given since 1996 has no signs but apostrophe, comma, stop, hyphen and exclamation mark.",
         bool(_ALLOWED_SIGNS.search(epithet))),
    ]  # fmt: skip


def _word_points(epithet: str) -> list[tuple[str, str, bool]]:
    words = re.findall(r"[^\W\d_]+", epithet)
    small = [
        w for i, w in enumerate(words) if w[0].islower() and (i == 0 or (len(w) > 1 and w not in _SMALL))
    ]
    banned = sorted({w.lower() for w in words} & _BANNED)
    shouted = len(words) > 0 and all(w.isupper() for w in words) and len("".join(words)) > 4
    return [
        ("capitals", f"Each important word begins with a capital: {', '.join(small)}.", bool(small)),
        (
            "banned_word",
            f"A name given since 1959 does not contain this word: {', '.join(banned)}.",
            bool(banned),
        ),
        (
            "superlative",
            "A name given since 1959 does not praise the plant above all others.",
            bool(_SUPERLATIVE.search(epithet)),
        ),
        (
            "trade_designation",
            "Written in capitals: is it a selling name? That is kept apart from the epithet.",
            shouted,
        ),
    ]
