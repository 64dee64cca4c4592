"""The forking line: everything is shown or counted, and what was asked about is never folded away."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.pages.pictures import lineage
from service.pages.pictures.flow import draw_way
from service.pages.pictures.folding import MOST_KNOTS, lay
from service.pages.pictures.model import Knot, Lineage, Step, Thing

SVG = "{http://www.w3.org/2000/svg}"


def family(children: int, *, focus: str = "", stopped: tuple[int, ...] = ()) -> Lineage:
    """One cutting with many bundles, each with one graft."""
    knots = [Knot("cut", Thing.COLLECTION, "Cutting 1")]
    steps = []
    for n in range(children):
        knots += [
            Knot(f"b{n}", Thing.BUNDLE, f"Bundle {n}", stopped=n in stopped, sticks=n),
            Knot(f"g{n}", Thing.GRAFT, f"Graft {n}"),
        ]
        steps += [Step("cut", f"b{n}"), Step(f"b{n}", f"g{n}")]
    return Lineage(tuple(knots), tuple(steps), focus)


def words(picture: str) -> list[str]:
    return ["".join(span.itertext()) for span in ET.fromstring(picture).iter(f"{SVG}tspan")]


@pytest.mark.parametrize("draw", [lineage.wide, lineage.narrow])
def test_a_small_family_is_shown_whole(draw):
    told = words(draw(family(4), "x"))

    assert {f"Bundle {n}" for n in range(4)} | {f"Graft {n}" for n in range(4)} | {"Cutting 1"} <= set(told)
    assert not [text for text in told if "more" in text]


@pytest.mark.parametrize("draw", [lineage.wide, lineage.narrow])
def test_a_big_family_is_folded_and_counted(draw):
    told = words(draw(family(40), "x"))

    assert "+ 70 more" in told  # 35 bundles with their 35 grafts
    assert len([text for text in told if text.startswith("Bundle")]) == 5


def test_the_way_to_what_was_asked_about_and_every_stop_are_kept_before_others():
    told = words(lineage.wide(family(40, focus="g33", stopped=(20, 39)), "x"))

    assert {"Bundle 33", "Graft 33", "Bundle 20", "Bundle 39"} <= set(told)


def test_stops_that_find_no_room_are_counted():
    told = words(lineage.wide(family(40, focus="g33", stopped=tuple(range(30))), "x"))

    assert "Graft 33" in told
    assert "26 of them stopped" in told


def test_stopped_things_are_hatched_and_say_so():
    plain, stopped = lineage.wide(family(3), "x"), lineage.wide(family(3, stopped=(1,)), "x")

    assert "url(#x-hatch)" not in plain
    assert stopped.count("url(#x-hatch)") == 1
    assert "stopped" in words(stopped)


TWO_WOODS = Lineage(
    knots=(
        Knot("a", Thing.BUNDLE, "Bundle A"), Knot("b", Thing.BUNDLE, "Interstem B"),
        Knot("g", Thing.GRAFT, "Graft 7"), Knot("p", Thing.PLANT, "Plant 3"),
    ),
    steps=(Step("a", "g"), Step("b", "g"), Step("g", "p")),
)  # fmt: skip


def test_a_graft_of_two_woods_is_joined_by_both():
    laid = lay(TWO_WOODS)

    assert [(earlier.knot.key, later.knot.key) for earlier, later in laid.joins] == [("b", "g")]
    assert "also from Interstem B" in words(lineage.narrow(TWO_WOODS, "x"))
    assert 'stroke-dasharray="5 4"' in lineage.wide(TWO_WOODS, "x")


@given(
    st.integers(1, 60).flatmap(
        lambda size: st.tuples(
            st.just(size),
            st.lists(st.tuples(st.integers(0, size - 1), st.integers(0, size - 1)), max_size=150),
        )
    ),
    st.booleans(),
)
def test_everything_is_shown_or_counted_once_even_in_a_loop(case, outline):
    size, pairs = case
    tangle = Lineage(
        tuple(Knot(f"k{n}", Thing.BUNDLE, f"Bundle {n}") for n in range(size)),
        tuple(Step(f"k{a}", f"k{b}") for a, b in pairs),
        "k0",
    )
    laid = lay(tangle, outline=outline)
    shown = [branch.knot.key for branch in laid.shown if not branch.knot.hidden]

    assert len(shown) == len(set(shown))
    assert len(shown) + sum(branch.knot.hidden for branch in laid.shown) == size
    if outline:
        assert sorted(branch.row for branch in laid.shown) == list(range(len(laid.shown)))


def test_five_thousand_things_make_a_picture_of_a_page():
    great = family(2500, focus="g1700")
    picture = lineage.wide(great, "x")

    assert len(lay(great).shown) <= MOST_KNOTS + 8
    assert len(picture) < 40_000
    assert "Graft 1700" in words(picture)


def test_awkward_names_stay_inside_the_picture():
    long = Lineage(
        (
            Knot("t", Thing.TREE, '<b onclick="x">' + "ע" * 300 + "🍐"),
            Knot("c", Thing.COLLECTION, "&amp;", note="“>'"),
        ),
        (Step("t", "c"),),
        "t",
    )
    for draw in (lineage.wide, lineage.narrow):
        tree = ET.fromstring(draw(long, "x"))
        assert not list(tree.iter(f"{SVG}b"))
        assert any("".join(title.itertext()).endswith("🍐") for title in tree.iter(f"{SVG}title"))
        assert all(len(text) < 60 for text in words(draw(long, "x")))


def test_the_way_of_the_wood_brings_its_own_colours_for_light_and_dark():
    picture = draw_way()

    assert "prefers-color-scheme:dark" in picture
    assert ET.fromstring(picture).find(f"{SVG}title").text == "The way of the wood, from a tree to a tree"
