"""When a tree counts as seen, in which season a look lies, and in which order one walks past trees."""

from __future__ import annotations

from datetime import date

import pytest

from service.trees.rules import (
    bare_words,
    is_seen_in_leaf,
    is_southern,
    not_seen_words,
    round_begins,
    seen_until,
    walking_key,
)


@pytest.mark.parametrize(
    "seen_on, day, seen",
    [
        # North: seen in July, cut the next January; not seen again, cut the January after (common practice, no source).
        ("2025-07-05", "2026-01-14", True), ("2025-07-05", "2027-01-14", False),
        # South: seen in January, cut in July; and a year later.
        ("2026-01-20", "2026-07-10", True), ("2026-01-20", "2027-07-10", False),
        # To the very day, and over a leap day.
        ("2025-07-05", "2026-07-05", True), ("2025-07-05", "2026-07-06", False),
        ("2024-02-29", "2025-02-28", True), ("2024-02-29", "2025-03-01", False),
        # A cut told late was made before the look.
        ("2026-07-05", "2026-01-14", True), (None, "2026-01-14", False),
    ],
)  # fmt: skip
def test_a_look_in_leaf_says_how_a_tree_is_for_a_year(seen_on: str | None, day: str, seen: bool) -> None:
    looked, on = date.fromisoformat(seen_on) if seen_on else None, date.fromisoformat(day)

    assert is_seen_in_leaf(looked, on) is seen
    assert (not_seen_words(looked, on) == "") is seen
    assert looked is None or (on <= seen_until(looked)) is seen


def test_what_is_said_of_a_tree_that_was_not_seen() -> None:
    assert not_seen_words(None, date(2026, 1, 14)) == "never seen in leaf"
    assert not_seen_words(date(2024, 5, 3), date(2026, 1, 14)) == "not seen in leaf since 3 May 2024"


@pytest.mark.parametrize(
    "look, day, same",
    [
        # One leafy season, of which a round may take all; and the bare months between two. Fruit the same.
        ("2026-06-01", "2026-10-20", True), ("2025-10-20", "2026-05-10", False), ("2025-09-20", "2026-09-20", False),
        ("2025-12-01", "2026-04-10", True), ("2025-04-20", "2025-11-10", False),
    ],
)  # fmt: skip
def test_a_round_counts_the_looks_of_its_own_season(look: str, day: str, same: bool) -> None:
    assert (date.fromisoformat(look) >= round_begins(date.fromisoformat(day))) is same


@pytest.mark.parametrize(
    ("zone", "latitude", "southern"),
    [
        # When clocks go forward: the zone database itself (IANA, by zoneinfo).
        ("Europe/London", None, False), ("America/Los_Angeles", None, False), ("Australia/Hobart", None, True),
        ("Pacific/Auckland", None, True), ("Europe/Dublin", None, False), ("UTC", None, None), ("Asia/Tokyo", None, None),
        ("Asia/Tokyo", 35.7, False), ("Africa/Johannesburg", -33.9, True), ("Africa/Nairobi", -1.3, None),
    ],
)  # fmt: skip
def test_the_hemisphere_follows_from_the_clock_or_the_latitude(
    zone: str, latitude: float | None, southern: bool | None
) -> None:
    assert is_southern(zone, 2026, latitude) is southern


@pytest.mark.parametrize(
    ("day", "zone", "asked"),
    [
        ("2026-02-21", "Europe/London", True), ("2026-07-05", "Europe/London", False), ("2026-04-20", "Europe/London", False),
        ("2026-07-05", "Pacific/Auckland", True), ("2026-02-21", "Pacific/Auckland", False), ("2026-02-21", "UTC", False),
    ],
)  # fmt: skip
def test_a_look_in_leaf_at_a_bare_tree_is_asked_about(day: str, zone: str, asked: bool) -> None:
    assert bool(bare_words(date.fromisoformat(day), zone)) is asked


def test_trees_stand_in_the_order_in_which_one_walks_past_them() -> None:
    told = [
        ("", 3), ("row 10, 1", 4), ("row 2, fifth", 5), ("Row 2, first", 9), ("row 2, third", 1), ("by the pond", 2), ("", 1),
        ("2 nd row", 8), ("rang 1", 7), ("row ٣", 6), ("row 1" + "9" * 190, 10),
    ]  # fmt: skip

    walked = sorted(told, key=lambda tree: walking_key(*tree))

    assert [number for _, number in walked] == [7, 9, 1, 5, 4, 10, 8, 2, 6, 1, 3]
