"""Which tags a thing may have, and whether bundles add up to their cut."""

import pytest

from service.tags.rules.words import (
    AlreadyTagged,
    NoSecondTag,
    Placement,
    SticksDoNotAddUp,
    TagInUse,
    TagKind,
    can_tag,
    check_adds_up,
    check_can_tag,
    names_thing,
)

BAG, WOOD = TagInUse("7K3P9M2A", Placement.BAG), TagInUse("8K3P9M2B", Placement.WOOD)


@pytest.mark.parametrize(("kind", "placement", "in_use", "problem"), [
    (TagKind.BUNDLE, Placement.BAG, [], None),
    (TagKind.BUNDLE, Placement.WOOD, [], None),
    (TagKind.BUNDLE, Placement.WOOD, [BAG], None),
    (TagKind.BUNDLE, Placement.BAG, [WOOD], None),
    (TagKind.BUNDLE, Placement.BAG, [BAG], AlreadyTagged),
    (TagKind.BUNDLE, Placement.WOOD, [BAG, WOOD], AlreadyTagged),
    *[(kind, Placement.BAG, [], None) for kind in TagKind],
    *[(kind, Placement.BAG, [BAG], AlreadyTagged) for kind in TagKind],
    *[(kind, Placement.WOOD, [], NoSecondTag) for kind in TagKind if kind is not TagKind.BUNDLE],
])  # fmt: skip
def test_one_tag_a_thing_and_two_a_bundle(
    kind: TagKind, placement: Placement, in_use: list[TagInUse], problem: type | None
) -> None:
    assert can_tag(kind, placement, in_use) == (problem is None)
    if problem is None:
        check_can_tag(kind, placement, in_use)
    else:
        with pytest.raises(problem):
            check_can_tag(kind, placement, in_use)


def test_a_thing_goes_by_the_tag_on_its_bag_or_else_by_the_only_one_it_has() -> None:
    assert names_thing(Placement.BAG, [])
    assert names_thing(Placement.BAG, [WOOD])
    assert names_thing(Placement.WOOD, [])
    assert not names_thing(Placement.WOOD, [BAG])


@pytest.mark.parametrize(
    ("sticks", "bundled", "fine"),
    [(12, [], True), (12, [12], True), (12, [5, 7], True), (12, [5, 6], False), (1, [2], False)],
)
def test_every_stick_of_a_cut_lies_in_exactly_one_bundle(sticks: int, bundled: list[int], fine: bool) -> None:
    if fine:
        check_adds_up(sticks, bundled)
    else:
        with pytest.raises(SticksDoNotAddUp) as caught:
            check_adds_up(sticks, bundled)
        assert caught.value.facts == {"sticks": sticks, "bundled": sum(bundled)}
