"""How wood is packed, told by people: what it changes from its hour on.

Water lost by a bare stick of 6 mm: 2 % of its fresh mass per kPa and day (derived: Front Plant Sci 2021, 790684), by Tetens'
equation (FAO 56 eq. 11). The factors of the packings, 0.6 of waxed ends and 0.5 of a disinfectant are judgement; here they
are written out once more, and sums made by hand stand beside what the service comes to.
"""

from __future__ import annotations

import math
from datetime import timedelta
from itertools import pairwise

import numpy as np
import pytest

from service.lib.errors import Refused
from service.science.groups import GROUPS
from service.science.packings import Packing
from service.storage import actions, schemas
from service.storage.queries.elsewhere import what_if
from service.storage.queries.grafted import keeping_then
from service.storage.queries.keeping import kept_keeping, reckon
from service.storage.queries.packing import packings_of
from service.storage.rules import keeping_words
from service.storage.rules.doses import StoreRun
from service.storage.rules.keeping import Lay, Wood, walk
from service.storage.rules.packing import (
    NOT_TOLD,
    PACKINGS,
    NoPackingTold,
    Packed,
    PackedFrom,
    can_be_told,
    check_packing_told,
    packed_through,
    packing_words,
)
from service.storage.rules.store_sums import base_doses
from service.storage.tables import BundlePacking
from tests.builders.storage import make_box, make_bundles, make_store, put, run
from tests.storage.test_keeping import CUT, STORE, Shelf

DAYS = 60
HOURS = 24 * DAYS
# The packing, how much of a bare stick's loss it lets through, how wet it is to mould.
TABLE = [
    ("damp_paper", 0.02, 0.35), ("sealed", 0.04, 0.15), ("wet", 0.02, 1.0), ("sand", 0.05, 0.40), ("loose", 0.15, 0.20),
    ("bare", 1.0, 0.02),
]  # fmt: skip
DEFICIT = 0.6108 * math.exp(17.27 * 4 / (4 + 237.3)) * 0.2  # kPa at 4 °C and the 80 % that are assumed
APPLE = GROUPS["apple"]


@pytest.fixture
def shelf(database, writer, clock):
    found = Shelf(database, writer, clock).until(HOURS)
    found.hourly([4.0] * HOURS)
    return found


def tell(shelf, bundle=None, *, days=0.0, **packed):
    at = CUT + timedelta(days=days)
    body = [schemas.PackingCreate(bundle_id=bundle or shelf.bundle, done_at=at, **packed)]
    return shelf.writer.write_now(actions.tell_packing, shelf.ground.host, body)


def doses(told):
    return told.doses.model_dump()


def packing_of(told):
    return next((one.how, one.words) for one in told.inputs if one.what == "packing")


def lost_pct(told):
    return told.doses.drying * APPLE.lost_half_pct


@pytest.mark.parametrize("waxed", [None, True])
@pytest.mark.parametrize("packing, lets_through, wetness", TABLE)
def test_wood_dries_and_moulds_as_it_is_packed(shelf, packing, lets_through, wetness, waxed):
    tell(shelf, packing=packing, waxed=waxed, disinfected=waxed)

    told = shelf.told()

    dried = 2.0 * DEFICIT * DAYS * lets_through * (0.6 if waxed else 1)
    mould = APPLE.mould_factor * wetness * 8 ** (4 / 10) * DAYS / 280 * (0.5 if waxed else 1)
    assert lost_pct(told) == pytest.approx(dried, rel=0.002)
    assert told.doses.mould == pytest.approx(mould, rel=0.002)
    words = PACKINGS[Packing(packing)]
    more = ", ends waxed, surface disinfected before it was packed" if waxed else ""
    assert packing_of(told) == ("told", words + more)


def test_bare_wood_dries_fifty_times_as_fast_as_in_damp_paper_and_is_told_to_dry(shelf):
    before = shelf.told()
    tell(shelf, packing="bare")

    bare = shelf.told()

    assert lost_pct(bare) / lost_pct(before) == pytest.approx(50, rel=1e-4)
    assert bare.share.expected < before.share.expected - 0.1
    assert bare.digest != before.digest


def test_what_was_told_of_its_packing_while_it_lay_nowhere_does_not_halve_how_long_it_did(shelf):
    (late,) = make_bundles(shelf.writer, shelf.ground)
    tell(shelf, late, packing="sand", days=5)
    put(
        shelf.writer,
        shelf.ground.host,
        {"bundle_id": late, "store_id": shelf.store.id, "done_at": CUT + timedelta(days=9)},
    )

    told = shelf.told(late)

    assert told.share is None
    assert told.share_words == keeping_words.NOT_WRITTEN.format(days=9)


@pytest.mark.parametrize("days", [0, 3.5, 40])
def test_the_default_told_is_the_default_assumed(shelf, days):
    assumed = shelf.told()
    tell(shelf, packing="damp_paper", waxed=False, disinfected=False, days=days)

    told = shelf.told()

    assert doses(told) == pytest.approx(doses(assumed), rel=1e-9)
    assert (told.share, told.keeps_until, told.keeps_from) == (
        assumed.share,
        assumed.keeps_until,
        assumed.keeps_from,
    )
    assert packing_of(assumed) == ("assumed", "sealed plastic with barely damp paper")
    assert packing_of(told)[0] == "told"


def test_another_packing_counts_from_its_hour_on_and_a_late_entry_as_if_told_in_time(shelf):
    tell(shelf, packing="sealed", days=20)
    tell(shelf, packing="bare", days=10)  # told later, of a day before

    told = shelf.told()

    per_day = 2.0 * DEFICIT
    assert lost_pct(told) == pytest.approx(per_day * (10 * 0.02 + 10 * 1.0 + 40 * 0.04), rel=0.002)
    assert packing_of(told) == (
        "told",
        "bare, then sealed plastic without paper; sealed plastic with barely damp paper assumed for 240 hours",
    )


def test_what_was_told_wrong_is_put_right_by_telling_it_again_for_the_same_hour_and_both_stand(shelf):
    tell(shelf, packing="bare")
    tell(shelf, packing="sand")

    with shelf.database.reading() as session:
        stands = packings_of(session, shelf.bundle, shelf.clock.at)
    assert lost_pct(shelf.told()) == pytest.approx(2.0 * DEFICIT * DAYS * 0.05, rel=0.002)
    assert stands.words == PACKINGS[Packing.SAND]
    assert [one.packing for one in stands.told] == ["sand", "bare"]


def test_waxed_ends_stay_waxed_in_another_packing(shelf):
    tell(shelf, waxed=True)
    tell(shelf, packing="loose", days=30)

    told = shelf.told()

    assert lost_pct(told) == pytest.approx(2.0 * DEFICIT * 0.6 * (30 * 0.02 + 30 * 0.15), rel=0.002)
    assert packing_of(told)[1].startswith("ends waxed, then loose or in an open bag, ends waxed; sealed")


def test_wood_that_was_split_off_is_packed_as_its_parent_was_until_then(shelf):
    split = CUT + timedelta(days=20)
    (child,) = make_bundles(shelf.writer, shelf.ground, parent_id=shelf.bundle, made_at=split)
    put(shelf.writer, shelf.ground.host, {"bundle_id": child, "store_id": shelf.store.id, "done_at": split})
    tell(shelf, packing="bare", days=10)
    tell(shelf, packing="sealed", days=30)

    per_day = 2.0 * DEFICIT
    assert lost_pct(shelf.told(child)) == pytest.approx(per_day * (10 * 0.02 + 50), rel=0.002)
    assert lost_pct(shelf.told()) == pytest.approx(per_day * (10 * 0.02 + 20 + 30 * 0.04), rel=0.002)
    with shelf.database.reading() as session:
        assert packings_of(session, child, shelf.clock.at).words == PACKINGS[Packing.BARE]


def test_put_away_with_its_packing_and_in_a_box_all_that_lies_in_it(shelf):
    (other,) = make_bundles(shelf.writer, shelf.ground)
    box = make_box(shelf.writer, shelf.ground)
    put(
        shelf.writer,
        shelf.ground.host,
        {"bundle_id": other, "into_box_id": box.id, "done_at": CUT},
        {"bundle_id": shelf.bundle, "into_box_id": box.id, "done_at": CUT},
    )
    put(
        shelf.writer, shelf.ground.host,
        {"box_id": box.id, "store_id": shelf.store.id, "done_at": CUT, "packing": "sand"},
    )  # fmt: skip

    for bundle in (shelf.bundle, other):
        assert lost_pct(shelf.told(bundle)) == pytest.approx(2.0 * DEFICIT * DAYS * 0.05, rel=0.002)


def test_a_look_tells_how_it_is_packed_since_then_or_since_when(shelf):
    shelf.look(
        buds="tight",
        seen_at=CUT + timedelta(days=50),
        packing="bare",
        packed_at=CUT + timedelta(days=40),
    )

    assert lost_pct(shelf.told()) == pytest.approx(2.0 * DEFICIT * (40 * 0.02 + 20), rel=0.002)


def test_what_is_told_renews_how_it_keeps_within_minutes(shelf):
    shelf.work()
    with shelf.database.reading() as session:
        before = kept_keeping(session, shelf.bundle)
    tell(shelf, packing="bare")
    shelf.work()

    with shelf.database.reading() as session:
        after = kept_keeping(session, shelf.bundle)
    assert packing_of(before)[0] == "assumed"
    assert packing_of(after) == ("told", "bare")
    assert after.share.expected < before.share.expected


def test_asked_where_else_it_would_keep_it_goes_as_it_is_packed_and_the_curve_follows(shelf):
    with shelf.database.writing_session() as session:  # of which dry wood is the first worry
        session.connection().exec_driver_sql("UPDATE taxon SET species_group = 'walnut'")
        session.commit()
    make_store(shelf.writer, shelf.ground, name="Another fridge")
    found = {}
    for packing in ("damp_paper", "bare"):
        tell(shelf, packing=packing, days=DAYS - 1)
        with shelf.database.reading() as session:
            found[packing] = what_if(session, shelf.bundle, shelf.clock.at)

    for here, there in zip(found["damp_paper"].stores, found["bare"].stores, strict=True):
        assert there.keeps_until < here.keeps_until
    curves = [found[packing].keeping.curve for packing in ("damp_paper", "bare")]
    past = curves[0].past - 1
    assert curves[0].expected[:past] == curves[1].expected[:past]
    assert curves[0].expected[past + 3] > curves[1].expected[past + 3]


def test_of_a_moment_before_it_was_packed_otherwise_it_kept_as_before(shelf):
    then = CUT + timedelta(days=30)
    with shelf.database.reading() as session:
        before = keeping_then(session, {shelf.bundle: {then}})[shelf.bundle, then]
    tell(shelf, packing="bare", days=31)

    with shelf.database.reading() as session:
        after = keeping_then(session, {shelf.bundle: {then}})[shelf.bundle, then]
    assert (after.doses, after.digest) == (before.doses, before.digest)


def test_many_bundles_each_with_its_packing_cost_no_more_statements_than_one(shelf, statements):
    others = make_bundles(shelf.writer, shelf.ground, 12)
    for place, other in enumerate(others):
        put(shelf.writer, shelf.ground.host, {"bundle_id": other, "store_id": shelf.store.id, "done_at": CUT})
        tell(shelf, other, packing=list(Packing)[place % 6], days=place)
    asked = []
    for ids in ([others[0]], others):
        with shelf.database.reading() as session:
            statements.clear()
            told = reckon(session, ids, shelf.clock.at)
            asked.append(len(statements))

    assert asked[0] == asked[1]
    assert len({told[one].digest for one in others}) == 12


# -- rules -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "packed, may",
    [
        (Packed(), False),
        (Packed(Packing.BARE), True),
        (Packed(waxed=False), True),
        (Packed(disinfected=True), True),
    ],
)
def test_something_of_it_must_be_told(packed, may):
    assert can_be_told(packed) is may
    if may:
        check_packing_told(packed)
    else:
        with pytest.raises(NoPackingTold):
            check_packing_told(packed)


BARE, SAND = Packed(Packing.BARE), Packed(Packing.SAND)


@pytest.mark.parametrize(
    "told, begin, end, found",
    [
        ([], 0, 9, [(0, 9, NOT_TOLD)]),
        ([(0, BARE)], 0, 9, [(0, 9, BARE)]),
        ([(-5, BARE)], 0, 9, [(0, 9, BARE)]),
        ([(4, BARE)], 0, 9, [(0, 4, NOT_TOLD), (4, 9, BARE)]),
        ([(4, BARE), (4, SAND)], 0, 9, [(0, 4, NOT_TOLD), (4, 9, SAND)]),
        ([(9, BARE)], 0, 9, [(0, 9, NOT_TOLD)]),
        ([(9, BARE)], 9, 9, [(9, 9, BARE)]),
        ([(10, BARE)], 9, 9, [(9, 9, NOT_TOLD)]),
        ([(2, BARE), (6, SAND), (20, BARE)], 0, 9, [(0, 2, NOT_TOLD), (2, 6, BARE), (6, 9, SAND)]),
    ],
)
def test_hours_are_cut_where_a_telling_begins(told, begin, end, found):
    assert packed_through([PackedFrom(*one) for one in told], begin, end) == found


def test_hours_cut_anywhere_by_the_same_packing_come_to_the_same():
    run_ = StoreRun(0, 4 + 3 * np.sin(np.arange(400) / 7), np.full(400, 70.0), np.zeros(400, np.uint8))
    found = []
    for edges in ([0, 400], [0, 1, 57, 200, 399, 400]):
        lays = [Lay(STORE, a, b, packed=SAND) for a, b in pairwise(edges)]
        found.append(walk(Wood(STORE, "apple", True, 0), APPLE, lays, [], {STORE: base_doses(run_)}).doses)

    for name in ("reserve", "lost_pct", "mould", "bud"):
        assert getattr(found[0], name) == pytest.approx(getattr(found[1], name), rel=1e-12)


def test_only_waxed_ends_told_leave_the_packing_itself_assumed():
    words = packing_words([(24, Packed(waxed=True))])

    assert words == (
        "packing",
        "told",
        "ends waxed; sealed plastic with barely damp paper assumed for 24 hours",
    )


def test_a_row_that_tells_nothing_is_refused_by_the_database_too(shelf):
    row = BundlePacking(
        bundle_id=shelf.bundle, done_at=CUT, recorded_at=CUT, by_party_id=shelf.host.party_id, for_party_id=shelf.host.party_id
    )  # fmt: skip
    with pytest.raises(Refused):
        run(shelf.writer, lambda session: session.add(row) or session.flush())
