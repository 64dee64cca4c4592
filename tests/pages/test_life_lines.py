"""The life line: what is drawn, and that nothing is made up."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pages.pictures import life_views
from service.pages.pictures.drawing import Canvas, width_of
from service.pages.pictures.from_record import mark_of
from service.pages.pictures.life import _spans, labels, ruler_for
from service.pages.pictures.model import Count, Expected, Happening, Life, Mark
from service.pages.pictures.shapes import shape

CUT = datetime(2026, 1, 10, 10, tzinfo=UTC)
SVG = "{http://www.w3.org/2000/svg}"
AWKWARD = [
    '<script>alert("x")</script> & ‘quotes’',
    "🍎🌳 apple of the 👩‍🌾",
    "תפוח העץ הגדול",
    "Reinette " + "très grise " * 28,
    "a\x00b\x1b\u202ec",
]


def days(number: float) -> datetime:
    return CUT + timedelta(days=number)


def life(
    *marks: tuple[Mark, float], counts: tuple[tuple[float, int], ...] = ((0, 12),), until: float = 40, **more
) -> Life:
    return Life(
        name=more.pop("name", "‘Bramley’s Seedling’"), until=days(until),
        happenings=tuple(Happening(mark, days(at), f"{mark.value} it") for mark, at in marks),
        counts=tuple(Count(days(at), sticks) for at, sticks in counts), **more,
    )  # fmt: skip


WHOLE = life(
    (Mark.CUT, 0),
    (Mark.STORE, 0.3),
    (Mark.LOOK, 10),
    (Mark.SPLIT, 20),
    (Mark.GRAFT, 39),
    counts=((0, 12), (20, 5), (39, 3)),
)


@pytest.mark.parametrize(
    "draw", [life_views.small, life_views.middle, lambda one, name: life_views.large([one], name)]
)
@pytest.mark.parametrize("name", AWKWARD)
def test_any_name_survives_in_any_size(draw, name):
    picture = draw(life((Mark.CUT, 0), (Mark.LOOK, 3), name=name), "x")

    tree = ET.fromstring(picture)
    whole = "".join(sign for sign in name if sign.isprintable() or sign == "\u200d")
    assert not list(tree.iter(f"{SVG}script"))
    assert whole in "".join(tree.find(f"{SVG}title").itertext()) + "".join(tree.find(f"{SVG}desc").itertext())
    assert draw(life((Mark.CUT, 0), (Mark.LOOK, 3), name=name), "x") == picture


def test_a_picture_is_named_and_described():
    tree = ET.fromstring(life_views.middle(WHOLE, "x"))

    assert tree.get("role") == "img"
    assert tree.get("aria-labelledby").split() == [
        tree.find(f"{SVG}title").get("id"),
        tree.find(f"{SVG}desc").get("id"),
    ]
    assert "30 Jan 2026: split it" in tree.find(f"{SVG}desc").text


def test_no_share_alive_is_drawn_unless_a_forecast_gives_one():
    told = life((Mark.CUT, 0), expected=(Expected(days(0), 0.9, 1.0), Expected(days(40), 0.6, 0.8)))

    assert "fill-opacity" not in life_views.middle(WHOLE, "x")
    assert "fill-opacity" in life_views.middle(told, "x")


def test_fewer_sticks_make_a_thinner_line_and_none_a_hair():
    one = life((Mark.CUT, 0), (Mark.GONE, 30), counts=((0, 12), (10, 6), (20, 1), (30, 0)))
    halves = [half for _, _, half in _spans(one, ruler_for([one], 400), 11, 0)]

    assert halves == sorted(halves, reverse=True)
    assert halves[0] == 5.5
    assert halves[1] == 2.75
    assert 0 < halves[3] < halves[2]


def test_every_mark_has_a_shape_of_its_own():
    drawn = {mark: shape(mark, 50, 20, 4) for mark in Mark if mark not in {Mark.CUT, Mark.CAME}}
    outlines = {mark: tuple(re.findall(r' d="([^"]+)"', svg)) for mark, svg in drawn.items()}

    assert len(set(outlines.values())) == len(outlines) - 3
    # These pairs share an outline: one is filled and one open, one bar is thick and one thin, and two ways to end are one.
    assert outlines[Mark.STORE] == outlines[Mark.OUT]
    assert drawn[Mark.STORE] != drawn[Mark.OUT]
    assert outlines[Mark.STOP] == outlines[Mark.FREE]
    assert drawn[Mark.STOP] != drawn[Mark.FREE]
    assert outlines[Mark.GONE] == outlines[Mark.LOST]


def test_stopped_wood_is_hatched_from_the_stop_to_its_release():
    stopped = life((Mark.CUT, 0), (Mark.STOP, 20), stopped=True)
    released = life((Mark.CUT, 0), (Mark.STOP, 20), (Mark.FREE, 30))
    never = life((Mark.CUT, 0))

    assert "url(#x-hatch)" in life_views.small(stopped, "x")
    assert "url(#x-hatch)" in life_views.small(released, "x")
    assert "url(#x-hatch)" not in life_views.small(never, "x")


def test_days_are_those_of_the_clubs_zone():
    late = life((Mark.CUT, 0.55), until=20)  # 23:12 UTC on 10 January

    assert ">10 Jan<" in life_views.middle(late, "x", zone="UTC")
    assert ">11 Jan<" in life_views.middle(late, "x", zone="Europe/Prague")


def test_older_wood_runs_in_from_the_left_of_a_lists_scale():
    old, new = (
        life((Mark.CUT, 0), (Mark.LOOK, 5), until=400),
        life((Mark.CUT, 380), counts=((380, 4),), until=400),
    )
    ruler = ruler_for([old, new], 300, at_most=timedelta(days=240))

    assert ruler.x(days(0)) == ruler.left
    assert ruler.x(days(380)) > ruler.left + 100
    assert 'stroke-dasharray="2 3"' in life_views.small(old, "x", ruler=ruler)


@given(
    st.lists(st.tuples(st.sampled_from(list(Mark)), st.floats(0, 400)), min_size=1, max_size=40),
    st.sampled_from([372.0, 880.0]),
)
def test_words_never_run_into_each_other_and_none_is_lost(marks, width):
    one = life(*sorted(marks, key=lambda pair: pair[1]), until=400)
    drawn, rows, left_out = labels(one, ruler_for([one], width, right=104), width, 5)
    leaders = [_leader(part) for part in drawn if part.startswith("<path")]
    words = [part for part in drawn if part.startswith("<text")]

    assert rows <= 5
    assert len(words) == 2 * len(leaders)
    assert left_out <= len(marks)
    boxes = [
        (x, row, max(_extent(words[2 * i]), _extent(words[2 * i + 1]))) for i, (x, row) in enumerate(leaders)
    ]
    for x, row, end in boxes:
        assert end <= width + 0.1
        for other_x, other_row, _ in boxes:
            # A leader runs down through all rows above its own word.
            assert not (x < other_x < end and other_row >= row)


def _leader(part: str) -> tuple[float, int]:
    x, down = re.search(r"M(\S+) \S+V(\S+?)\"", part).groups()
    return float(x), round((float(down) - 30) / 36)


def _extent(part: str) -> float:
    element = ET.fromstring(part)
    return float(element.get("x")) + width_of("".join(element.itertext()), float(element.get("font-size")))


def test_an_empty_life_says_so():
    nothing = Life(name="x", happenings=(), until=CUT)

    assert life_views.described(nothing) == "Nothing is recorded yet."
    assert ET.fromstring(life_views.small(nothing, "x")) is not None


def test_many_lines_stand_under_each_other_on_one_scale():
    many = [life((Mark.CUT, n), until=60, name=f"Wood {n}", end_words=f"{n} sticks") for n in range(12)]
    for width in (372.0, 960.0):
        tree = ET.fromstring(life_views.large(many, "x", width=width))
        texts = ["".join(text.itertext()) for text in tree.iter(f"{SVG}text")]
        assert [text for text in texts if text.startswith("Wood")] == [f"Wood {n}" for n in range(12)]
    assert Canvas("x", 1).hatch == "url(#x-hatch)"


def test_a_look_and_a_weighing_are_two_marks():
    assert (mark_of("look", ""), mark_of("look", "weighed")) == (Mark.LOOK, Mark.WEIGHED)
    assert Mark.WEIGHED.value == "weighed"
