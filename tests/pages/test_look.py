"""The style sheet, the shell and the files beside them."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from PIL import Image

from service.pages.pictures.drawing import TOKENS
from service.pages.pictures.flow import draw_way
from service.pages.render import STATIC

TEMPLATES = STATIC.parent / "templates"
SHEET = (STATIC / "style.css").read_text(encoding="utf-8")
CHECKOUT = Path(__file__).resolve().parents[2]
WRITTEN_IN = ("ink", "quiet", "bark", "bud", "water", "caution", "stop")


def tokens(scheme: str) -> dict[str, str]:
    light, dark = re.findall(r":root \{(.*?)\}", SHEET, re.DOTALL)[:2]
    found = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", light))
    return (
        found if scheme == "light" else {**found, **dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", dark))}
    )


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, as WCAG 2.2 defines it (W3C, "relative luminance" and "contrast ratio")."""
    a, b = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (a + 0.05) / (b + 0.05)


def _luminance(colour: str) -> float:
    signs = colour.lstrip("#")
    signs = "".join(sign * 2 for sign in signs) if len(signs) == 3 else signs
    parts = [int(signs[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_the_contrast_formula_gives_the_published_ends_of_its_scale():
    assert contrast("#000", "#fff") == pytest.approx(21)  # WCAG 2.2: ratios range from 1 to 21
    assert contrast("#777777", "#777777") == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "card", "tint"])
@pytest.mark.parametrize("ink", WRITTEN_IN)
def test_every_colour_can_be_read_on_every_ground(scheme, ground, ink):
    colours = tokens(scheme)

    assert contrast(colours[ink], colours[ground]) >= 4.5  # WCAG 2.2, 1.4.3, AA


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_edges_of_fields_and_words_on_the_main_act_can_be_seen(scheme):
    colours = tokens(scheme)

    assert (
        min(contrast(colours["rule"], colours[ground]) for ground in ("paper", "card")) >= 3
    )  # WCAG 2.2, 1.4.11
    assert contrast(colours["on-colour"], colours["bud"]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_picture_in_a_file_of_its_own_has_the_sheets_colours(scheme):
    colours = tokens(scheme)

    brought = dict(re.findall(r"--(\w+):(#[0-9a-f]+)", TOKENS[scheme]))
    assert brought == {name: colours[name] for name in brought}


def test_the_sheet_is_small_and_fetches_nothing():
    assert len(SHEET.encode()) < 20_000
    assert "url(" not in SHEET
    assert "@import" not in SHEET


@pytest.mark.parametrize(
    "path", sorted(TEMPLATES.rglob("*.html")), ids=lambda path: str(path.relative_to(TEMPLATES))
)
def test_templates_need_no_inline_style_or_script(path):
    text = path.read_text(encoding="utf-8")

    assert not re.search(r"\sstyle=", text)
    assert not re.search(r"\son[a-z]+=", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"<style", text)
    assert not re.search(r"javascript:", text)


def test_the_manifest_names_icons_of_the_size_they_have():
    manifest = json.loads((STATIC / "manifest.json").read_text(encoding="utf-8"))

    for icon in manifest["icons"]:
        file = STATIC / icon["src"].removeprefix("/static/")
        assert file.exists()
        if file.suffix == ".png":
            with Image.open(file) as picture:
                assert "x".join(map(str, picture.size)) == icon["sizes"]


def test_the_front_pages_picture_is_drawn_by_the_code_as_it_stands():
    assert (CHECKOUT / "docs" / "pictures" / "flow.svg").read_text(encoding="utf-8") == draw_way()
