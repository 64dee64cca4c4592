"""What the pictures share: escaped text that fits, shapes, and an SVG with a title and a description.

Colours are the style sheet's tokens, so that a picture on a page follows light and dark; a picture in a file of its own
brings them along.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, field
from html import escape

LETTER_WIDTH = 0.56  # of the type size; wide enough for the faces of the style sheet
TOKENS = {
    "light": "--paper:#f7f5ef;--card:#fff;--ink:#20261f;--quiet:#5c625a;--bark:#5a4533;"
    "--bud:#2d6a3e;--water:#1f5f7a;--stop:#9a2a1c;--hair:#d3cfc2",
    "dark": "--paper:#171b17;--card:#212721;--ink:#e9ece4;--quiet:#a9b0a5;--bark:#c9ad92;"
    "--bud:#8fcf9c;--water:#8cc4dd;--stop:#f2998a;--hair:#3b433b",
}

BOLD = 1.12  # how much wider bold letters run


def number(value: float) -> str:
    """A coordinate, short and the same on every machine."""
    return f"{round(value, 1):g}"


def width_of(words: str, size: float) -> float:
    """About how wide words will be drawn; signs of East Asian scripts and emoji count double."""
    signs = sum(
        2 if unicodedata.east_asian_width(sign) in "WF" else 1
        for sign in words
        if not unicodedata.combining(sign)
    )
    return signs * size * LETTER_WIDTH


def fitted(words: str, room: float, size: float) -> str:
    """The words, or as many of their signs as fit, with an ellipsis."""
    tidy = " ".join(without_controls(words).split())
    if width_of(tidy, size) <= room:
        return tidy
    kept = ""
    for sign in tidy:
        if width_of(kept + sign + "…", size) > room:
            break
        kept += sign
    return kept.rstrip("\u200d ") + "…"


def without_controls(words: str) -> str:
    """Without signs that XML forbids or that would turn the direction of all text that follows."""
    return "".join(
        sign
        for sign in words
        if unicodedata.category(sign) not in {"Cc", "Cs", "Cn"}
        and sign not in "\u202a\u202b\u202c\u202d\u202e"
    )


def safe(words: str) -> str:
    return escape(without_controls(words))


def text(
    x: float,
    y: float,
    words: str,
    *,
    ink: str = "ink",
    size: float = 13,
    anchor: str = "start",
    bold: bool = False,
    room: float = 0,
) -> str:
    """One line of text; where it does not fit it ends in an ellipsis, whole in its title."""
    shown = (
        fitted(words, room, size * BOLD if bold else size)
        if room
        else " ".join(without_controls(words).split())
    )
    whole = f"<title>{safe(words)}</title>" if shown.endswith("…") else ""
    weight = ' font-weight="700"' if bold else ""
    place = "" if anchor == "start" else f' text-anchor="{anchor}"'
    # A name written from the right still starts where it stands.
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" fill="var(--{ink})"{weight}{place} direction="ltr">'
        f'{whole}<tspan unicode-bidi="isolate">{safe(shown)}</tspan></text>'
    )


def path(d: str, *, ink: str = "bark", width: float = 2, fill: str = "none", more: str = "") -> str:
    filled = f"var(--{fill})" if fill != "none" and not fill.startswith("url") else fill
    stroke = f' stroke="var(--{ink})" stroke-width="{number(width)}"' if width else ""
    return f'<path d="{d}" fill="{filled}"{stroke}{more}/>'


@dataclass
class Canvas:
    """Collects what is drawn, and closes it into one picture."""

    name: str
    width: float
    height: float = 0
    drawn: list[str] = field(default_factory=list)

    def add(self, *parts: str) -> None:
        self.drawn.extend(parts)

    @property
    def hatch(self) -> str:
        return f"url(#{self.name}-hatch)"

    def svg(self, title: str, described: str, *, standing_alone: bool = False) -> str:
        """The whole picture, readable without eyes by its title and description."""
        style = (
            f"<style>svg{{{TOKENS['light']}}}@media (prefers-color-scheme:dark){{svg{{{TOKENS['dark']}}}}}"
            "text{font-family:Charter,Cambria,'Noto Serif','DejaVu Serif',serif}</style>"
            if standing_alone
            else ""
        )
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{self.name}-t {self.name}-d" '
            f'viewBox="0 0 {number(self.width)} {number(self.height)}" width="{number(self.width)}" height="{number(self.height)}">'
            f'<title id="{self.name}-t">{safe(title)}</title><desc id="{self.name}-d">{safe(described)}</desc>{style}'
            f'<defs><pattern id="{self.name}-hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
            '<path d="M1 0v5" stroke="var(--stop)" stroke-width="2"/></pattern></defs>'
            + "".join(self.drawn)
            + "</svg>"
        )
