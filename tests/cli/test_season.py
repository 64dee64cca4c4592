"""The demo's season: told through the actions on both databases, and as large and as coherent as it promises."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest
from sqlmodel import Session, col, func, select

from service.app import create_app
from service.bundles.queries import audit
from service.bundles.tables import Bundle, BundleStop, StickMove
from service.catalogue.tables import Cultivar
from service.cli.demonstrating import load_demo
from service.cli.season import DEMO_DIR, Season, SeasonFileWrong, StoryClock, load_season, read_rows
from service.cli.season.files import Row
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant, TakeCheck
from service.lib.database import Database
from service.lib.jobs import Job
from service.lib.settings import Settings
from service.lib.whole_times import instant_of
from service.members.tables import Account, Area, Letter, Party
from service.provenance.tables import Recall, RecallParty
from service.storage.queries import lying_in_stores, store_temps
from service.storage.queries.learned import learned
from service.storage.queries.readings import record_of_logger
from service.storage.queries.use_first import use_first
from service.storage.rules import span_of
from service.storage.tables import BundleCheck, DialReading, ForecastKept, PutAway, Store, StoreRing
from service.tags.queries import current_address
from service.trees.tables import AirDay, Site, SourceTree, Stop, TreeStop
from tests.builders.catalogue import load_catalogue
from tests.infra.demo import kept_demo

BEGINS = datetime(2024, 6, 1, tzinfo=UTC)


def tell(database: Database, folder: Path, files: Path = DEMO_DIR) -> Season:
    """The season in a database that has its tables and nothing else."""
    clock = StoryClock(BEGINS)
    writer = create_app(
        Settings(data_dir=folder, database_url=database.url), database=database, clock=clock
    ).state.writer
    load_catalogue(writer)
    return load_season(writer, clock, files)


def count(session: Session, table: Any, *where: Any) -> int:
    return session.exec(select(func.count()).select_from(table).where(*where)).one()


def words(session: Session, column: Any, *where: Any) -> list[Any]:
    return list(session.exec(select(column).where(*where)))


# -- what is promised ------------------------------------------------------------------------------------------------


def check_what_rang(session: Session, season: Season) -> None:
    """The bad weekend of the fridge: told once to its host and the steward, and again in the letter of that Sunday."""
    (ring,) = session.exec(select(StoreRing)).all()
    told = session.exec(
        select(Letter.kind, Party.name).join(Party).order_by(Letter.made_at, Party.name)
    ).all()
    weekly = session.exec(
        select(Letter.text).where(Letter.kind == "weekly", Letter.text.contains("garage fridge"))
    ).one()

    assert (ring.kind, ring.extreme_c, ring.told_at, ring.withdrawn_at) == (
        "heat", 11.1, datetime(2026, 2, 9, 19, 30, tzinfo=UTC), None,
    )  # fmt: skip
    assert [name for kind, name in told if kind == "warning"] == ["Bram Oosterlaan", "Odhrán Fairleigh"]
    assert len([name for kind, name in told if kind == "weekly"]) == 3
    assert (
        "It was too warm from 8 February 2026, 13:00 until 9 February 2026, 09:00: 11.1 °C at worst. You were told at once."
        in weekly
    )
    assert count(session, Job) == 0


def check_how_wood_keeps(session: Session, season: Season) -> None:
    """Every bundle in store has its forecast, most with a share; the bad weekend cost something, and it is told how much."""
    lying, _ = lying_in_stores(session)
    kept = {one.bundle_id: one for one in use_first(session, most=2000)}
    assert {one.bundle_id for one in lying} == set(kept)
    shares = [one.keeping.share for one in kept.values() if one.keeping.share is not None]
    assert len(shares) > len(kept) / 2
    assert all(share.expected < 0.98 for share in shares)
    poor = [one.keeping for one in kept.values() if one.keeping.share and one.keeping.share.expected <= 0.3]
    assert len(poor) == 2  # sweet cherry whose buds swelled when it was cut, four weeks before
    assert all(
        ("buds at cutting", "looked at: swelling") in [(of.what, of.words) for of in one.inputs]
        for one in poor
    )
    assert all(share.low <= share.expected <= share.high for share in shares)

    fridge = session.exec(select(StoreRing.store_id)).one()
    (alarm,) = store_temps(session, fridge, season.now, 42).alarms
    assert len(alarm.costs) >= 3
    assert all(cost.days > 0 for cost in alarm.costs)
    assert "of keeping" in alarm.cost_words


def check_what_takes_taught(session: Session, season: Season) -> None:
    """Last season's takes moved this season's forecasts, and are held against what was told when they were grafted."""
    told = learned(session).newest
    assert told is not None
    assert told.made_at < datetime(2025, 8, 1, tzinfo=UTC)
    groups = {group.species_group: group for group in told.groups}
    assert groups["apple"].grafts > 100
    assert groups["apple"].sigma < groups["apple"].before_sigma
    assert groups["apple"].kept_days != groups["apple"].kept_days_before
    assert sum(each.grafts for each in told.came_true) == told.grafts
    assert told.left_out["not_written"] == 7  # wood that went home before it was grafted
    of_apples = [
        one.keeping for one in use_first(session, most=2000) if one.kind == "Apple" and one.keeping.share
    ]
    assert len(of_apples) > 20
    assert all(one.ageing_version == told.version and one.share_first for one in of_apples)
    kept = session.exec(
        select(ForecastKept).where(ForecastKept.why == "handed_over", col(ForecastKept.share).is_not(None))
    ).all()
    assert {one.ageing_version for one in kept if one.as_of < told.made_at} == {None}
    assert {one.ageing_version for one in kept if one.as_of > told.made_at} == {told.version}


def check_counts(session: Session, season: Season) -> None:
    kinds = words(session, Party.kind)
    assert (kinds.count("member") + kinds.count("guest"), kinds.count("club")) == (60, 1)
    trees = session.exec(select(SourceTree)).all()
    assert len(trees) == 120
    assert len({tree.cultivar_id for tree in trees if tree.cultivar_id}) == 40
    assert len({tree.taxon_id for tree in trees}) >= 9
    assert (count(session, Site), count(session, Area), count(session, Store)) == (6, 2, 3)
    assert count(session, Bundle) == 430
    assert count(session, Account) == len(season.sign_ins) == 6


def check_audit(session: Session, season: Season) -> None:
    assert audit(session).clean
    assert audit(session).bundles == 430


def check_how_cold_it_was(session: Session, season: Season) -> None:
    """Real days at every site, and a fridge that warmed over one weekend and over no other."""
    assert count(session, AirDay) == 6 * 1147  # 1 January 2023 to 20 February 2026
    fridge = season.ids["logger", "grey"]
    span = span_of(datetime(2026, 2, 1, tzinfo=UTC), datetime(2026, 2, 20, tzinfo=UTC))
    hours = record_of_logger(session, fridge, span).hours()
    warm = {
        instant_of(hour * 3600).day
        for hour, temp in zip(hours.hour.tolist(), hours.temp_c.tolist(), strict=True)
        if temp > 6
    }
    assert warm == {7, 8, 9}
    assert len(hours.hour) == 19 * 24
    assert (
        count(session, DialReading) == 11 + 3 * 8
    )  # a farm's dairy this winter; every store the winter before


def check_nothing_lies_ahead(session: Session, season: Season) -> None:
    """Everything was recorded at its own moment of the story, between its beginning and its today."""
    for column in (
        StickMove.recorded_at,
        Collection.recorded_at,
        PutAway.recorded_at,
        Graft.recorded_at,
        BundleCheck.recorded_at,
    ):
        told = words(session, column)
        assert min(told) > BEGINS
        assert max(told) <= season.now
    assert words(session, StickMove.id, col(StickMove.recorded_at) != col(StickMove.done_at)) == []
    assert len({at.date() for at in words(session, Collection.recorded_at)}) > 8


def check_sticks_went_every_way(session: Session, season: Season) -> None:
    assert set(words(session, StickMove.form)) >= {"bundle", "flag", "table"}
    kinds = {
        "split_out",
        "returned",
        "table_back",
        "given_outside",
        "cut_to_length",
        "discarded",
        "corrected",
        "grafted",
        "received",
    }
    assert set(words(session, StickMove.kind)) >= kinds


def check_wood_of_every_kind(session: Session, season: Season) -> None:
    assert set(words(session, Collection.wood)) == {"dormant", "summer"}
    assert count(session, Collection, col(Collection.kind) == "receipt") == 4
    # Two cuts left something out at the tree; some receipts came without a paper or a sender.
    assert (
        count(session, Collection, col(Collection.unfinished).is_(True), col(Collection.kind) == "cut") == 2
    )
    assert words(session, SourceTree.name_as_told, col(SourceTree.provisional).is_(True)) == [
        "Old Mill Redcheek"
    ]
    assert words(
        session,
        Cultivar.epithet,
        col(Cultivar.protection) == "permission",
        col(Cultivar.edited_by_club).is_(True),
    ) == ["Fennimore Blush"]
    assert count(session, BundleCheck, col(BundleCheck.mould).is_(True)) == 1


def check_boxes_moved(session: Session, season: Season) -> None:
    moves = words(session, PutAway.box_id, col(PutAway.box_id).is_not(None))

    assert moves.count(season.ids["box", "box-apples"]) > 3  # its first place, the hall, the cellar, and back


def check_grafts_and_takes(session: Session, season: Season) -> None:
    verdicts = [
        (look.alive, look.looked_at)
        for look in session.exec(select(TakeCheck).where(col(TakeCheck.is_verdict).is_(True)))
    ]
    assert any(alive == 0 for alive, _ in verdicts)
    assert any(0 < alive == looked_at for alive, looked_at in verdicts)
    assert words(session, GraftWood.graft_id, col(GraftWood.part) == "interstem") == [
        season.ids["graft", "g-interstem"]
    ]
    became = words(session, Plant.source_tree_id, col(Plant.source_tree_id).is_not(None))
    grown = season.ids["tree", "ashmead-2"], season.ids["tree", "darcy-grown"]
    assert sorted(became) == sorted(grown)
    (cut,) = session.exec(select(Collection).where(col(Collection.tree_id).in_(grown))).all()
    assert cut.cut_on.year == 2026


def check_stops_and_recall(session: Session, season: Season) -> None:
    assert sorted(words(session, Stop.reason)) == ["health", "name"]
    blight = season.ids["stop", "blight"]
    bound = set(words(session, TreeStop.tree_id, col(TreeStop.stop_id) == blight))
    # The sick pear, and the young Conference that was worked over with its wood.
    assert bound == {season.ids["tree", "williams-1"], season.ids["tree", "conference-2"]}
    stopped = set(words(session, BundleStop.bundle_id, col(BundleStop.stop_id) == blight))
    held = set(
        words(session, Bundle.holder_id, col(Bundle.id).in_(stopped), col(Bundle.holder_id).is_not(None))
    )
    assert len(held) >= 4
    assert season.ids["bundle", "zoltan-williams-26"] in stopped
    assert season.ids["bundle", "conference-26.1"] not in stopped


def check_recall_names_the_right_people(session: Session, season: Season) -> None:
    """Read off the files by hand: who took, grafted, worked over, owns, or stores wood of the sick pear, and nobody else."""
    (recall,) = session.exec(select(Recall)).all()
    named = session.exec(
        select(Party.name, RecallParty.told_at).join(RecallParty, col(RecallParty.party_id) == col(Party.id)).where(
            col(RecallParty.recall_id) == recall.id
        )
    ).all()  # fmt: skip
    told = {name for name, at in named if at is not None}
    assert told == {"Zoltán Almásházi", "Old Mr Pettifer", "Linnéa Åkerwood"}
    assert {name for name, _ in named} - told == {
        "Aoife Ní Abhalla",
        "Étienne Boutoir",
        "Jarmila Vostrá",
        "Bram Oosterlaan",
    }


def check_people_are_hard_to_print(session: Session, season: Season) -> None:
    names = words(session, Party.name)

    assert max(map(len, names)) > 80
    assert any("\u0590" <= sign <= "\u05ff" for name in names for sign in name)
    assert any("🌱" in name for name in names)


def check_address(session: Session, season: Season) -> None:
    address = current_address(session)

    assert address is not None
    assert address.host == "TAGS.OTTERLEA.EXAMPLE"
    assert len(address.host) <= 28


CHECKS = (
    check_counts, check_audit, check_how_cold_it_was, check_what_rang, check_how_wood_keeps, check_what_takes_taught,
    check_nothing_lies_ahead, check_sticks_went_every_way, check_wood_of_every_kind, check_boxes_moved,
    check_grafts_and_takes, check_stops_and_recall, check_recall_names_the_right_people, check_people_are_hard_to_print, check_address,
)  # fmt: skip


def check_promises(database: Database, season: Season) -> None:
    with database.reading() as session:
        for check in CHECKS:
            check(session, season)


def test_the_season_is_what_it_promises(tmp_path: Path) -> None:
    loaded = load_demo(kept_demo(tmp_path / "demo"))
    check_promises(loaded.app.state.database, loaded.season)
    loaded.app.state.database.close()


# -- how it is told ----------------------------------------------------------------------------------------------------


def _story_of(database: Database) -> list[Any]:
    """All that should be the same in two tellings: everything but random codes, sign-ins and ids of single deeds."""
    bundle = (
        Bundle.id,
        Bundle.came_in,
        Bundle.passed_on,
        Bundle.grafted,
        Bundle.discarded,
        Bundle.open_stops,
        Bundle.made_at,
    )
    move = (StickMove.bundle_id, StickMove.kind, StickMove.sticks, StickMove.form, StickMove.recorded_at)
    tree = (SourceTree.id, SourceTree.number, SourceTree.open_stops)
    plant = (Plant.id, Plant.number, Plant.state)
    put = (PutAway.bundle_id, PutAway.box_id, PutAway.into_box_id, PutAway.done_at)
    with database.reading() as session:
        # Ids as text: PostgreSQL and Python sort them alike, and places that are not known sort too.
        return [
            sorted(str(tuple(row)) for row in session.exec(select(*columns)))
            for columns in (bundle, move, tree, plant, put)
        ]


@pytest.mark.databases("postgres")
def test_another_telling_promises_and_holds_the_same_but_for_the_codes(
    database: Database, data_dir: Path, tmp_path: Path
) -> None:
    kept = load_demo(kept_demo(tmp_path / "demo"))
    season = tell(database, data_dir)

    check_promises(database, season)
    assert _story_of(database) == _story_of(kept.app.state.database)
    assert season.codes.keys() == kept.season.codes.keys()
    assert season.codes != kept.season.codes
    kept.app.state.database.close()


@pytest.mark.databases("sqlite")
def test_a_wrong_line_is_named_with_its_file(database: Database, data_dir: Path) -> None:
    files = copytree(DEMO_DIR, data_dir / "files")
    sticks = files / "sticks.csv"
    lines = sticks.read_text().splitlines(keepends=True)
    place = next(n for n, line in enumerate(lines) if ",discard," in line)
    lines[place] = lines[place].replace(",8,", ",800,")
    sticks.write_text("".join(lines))

    with pytest.raises(SeasonFileWrong, match=rf"sticks\.csv line {place + 1}: 800 sticks asked"):
        tell(database, data_dir, files)


def test_the_clock_stands_while_told_and_runs_on_after() -> None:
    clock = StoryClock(BEGINS)
    clock.at = BEGINS + timedelta(days=3)
    stood = clock.now()

    clock.run_on_from(BEGINS + timedelta(days=9))

    assert stood == BEGINS + timedelta(days=3)
    assert BEGINS + timedelta(days=9) <= clock.now() < BEGINS + timedelta(days=9, minutes=5)


# -- the files ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", sorted(path.name for path in DEMO_DIR.glob("*.*")))
def test_every_file_explains_itself(name: str) -> None:
    lines = (DEMO_DIR / name).read_text(encoding="utf-8").splitlines()
    heading = [line for line in lines if line.startswith("#")]

    assert lines[0].startswith("# ")
    columns = (
        []
        if name.endswith(".toml")
        else [column for column in _columns(name) if column not in {"note", "kind"}]
    )
    assert [column for column in columns if column not in " ".join(heading)] == []


def _columns(name: str) -> list[str]:
    row: Row = read_rows(DEMO_DIR, name)[0]
    return [column for column in row if not column.startswith("_")]


def test_contacts_lead_nowhere() -> None:
    """RFC 2606 keeps .example for this: no address there belongs to anybody."""
    contacts = [row["contact"] for row in read_rows(DEMO_DIR, "people.csv")]

    assert [contact for contact in contacts if "@" in contact and not contact.endswith(".example")] == []
