"""What both pictures share: escaped text that fits, and an SVG with a title and a description."""

from __future__ import annotations

from html import escape

LONGEST = 48


def text(
    x: float,
    y: float,
    words: str,
    *,
    kind: str = "ink",
    size: int = 13,
    anchor: str = "start",
    weight: int = 400,
) -> str:
    """One line of text; too long a one ends in an ellipsis, whole in its title."""
    shown = words if len(words) <= LONGEST else words[: LONGEST - 1] + "…"
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size}" font-weight="{weight}" text-anchor="{anchor}" fill="var(--{kind})">'
        f"<title>{escape(words)}</title>{escape(shown)}</text>"
    )


def svg(name: str, title: str, described: str, width: float, height: float, body: str) -> str:
    """The whole picture, readable without eyes by its title and description."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{name}-t {name}-d" viewBox="0 0 {width:g} {height:g}" '
        f'width="{width:g}" height="{height:g}" font-family="inherit"><title id="{name}-t">{escape(title)}</title>'
        f'<desc id="{name}-d">{escape(described)}</desc>'
        '<defs><pattern id="'
        + name
        + '-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
        '<rect width="3" height="6" fill="var(--stop)"/></pattern></defs>' + body + "</svg>"
    )
