"""Taking the reference files over, and naming varieties."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import func, select, update

from service.catalogue import actions, queries, schemas
from service.catalogue.rules import AlreadySpelled, NameKind, NotYourWord, Protection, ReferenceFileWrong
from service.catalogue.tables import Cultivar, CultivarName, NameTrigram, Taxon
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.errors import AlreadyKnown, NotFound, Stale, Unusable
from service.lib.write import Writer
from service.members.rules import May
from service.members.tables import Club
from tests.builders.catalogue import (
    REFERENCE,
    cultivar_id,
    load_catalogue,
    make_cultivar,
    make_namer,
    make_taxon,
    taxon_id,
)
from tests.infra.cast import Cast
from tests.infra.statements import Statements

NOW = datetime(2026, 2, 14, 10, tzinfo=UTC)
TODAY = NOW.date()
GALA = "malus-domestica--gala"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    copy = tmp_path / "reference"
    shutil.copytree(REFERENCE, copy)
    return copy


def swap(folder: Path, name: str, old: str, new: str) -> None:
    text = (folder / name).read_text("utf-8")
    assert text.count(old) == 1
    (folder / name).write_text(text.replace(old, new), "utf-8")


def found(database: Database, typed: str) -> list[str]:
    with database.reading() as session:
        return [one.epithet for one in queries.search_cultivars(session, typed)]


def counts(database: Database) -> list[int]:
    with database.reading() as session:
        return [
            session.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (Taxon, Cultivar, CultivarName, NameTrigram)
        ]


# -- the reference files -------------------------------------------------------------------------------------------


def test_loading_twice_changes_nothing_the_second_time(
    database: Database, writer: Writer, statements: Statements
) -> None:
    first = load_catalogue(writer)
    before = counts(database)
    with statements.at_most(11):
        second = load_catalogue(writer)

    assert first.added["cultivar"] > 150 and first.changed > 1000
    assert second.changed == 0 and counts(database) == before


def test_a_row_that_was_mended_is_renewed_and_a_new_row_is_added(
    database: Database, writer: Writer, folder: Path
) -> None:
    load_catalogue(writer)
    swap(folder, "taxa.csv", "Malus,Apple,", "Malus,Dessert apple,")
    with (folder / "cultivars.csv").open("a", encoding="utf-8") as file:
        file.write(
            'malus-domestica--rasks-russet,malus-domestica,Rask\'s Russet,,,,free,,,common practice,"common practice, no source"\n'
        )

    report = load_catalogue(writer, folder)

    assert (report.added["cultivar"], report.renewed["taxon"]) == (1, 1)
    assert found(database, "rasks russet")[0] == "Rask's Russet"


def test_a_wrong_file_changes_nothing(database: Database, writer: Writer, folder: Path) -> None:
    load_catalogue(writer)
    before = counts(database)
    swap(folder, "taxa.csv", "Malus,Apple,MABSD", "Malus,Dessert apple,123")

    with pytest.raises(ReferenceFileWrong, match=r"taxa\.csv line \d+, eppo_code"):
        load_catalogue(writer, folder)

    assert counts(database) == before
    with database.reading() as session:
        assert queries.get_taxon(session, taxon_id("malus-domestica")).kind == "Apple"


def test_what_the_club_wrote_is_never_overwritten(database: Database, writer: Writer, folder: Path) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    writer.write_now(
        actions.change_cultivar, steward, cultivar_id(GALA), 1, schemas.CultivarUpdate(epithet="Royal Gala")
    )
    writer.write_now(actions.add_spelling, steward, cultivar_id(GALA), schemas.SpellingCreate(name="Galla"))
    before = counts(database)

    report = load_catalogue(writer, folder)

    assert report.changed == 0 and counts(database) == before
    with database.reading() as session:
        gala = queries.get_cultivar(session, cultivar_id(GALA), NOW)
    assert gala.epithet == "Royal Gala" and gala.edited_by_club
    assert {one.name: one.kind for one in gala.names} == {
        "Royal Gala": "epithet",
        "Gala": "synonym",
        "Galla": "donors_spelling",
    }


def test_a_variety_the_club_had_before_the_file_had_it_is_not_doubled(
    database: Database, writer: Writer, folder: Path
) -> None:
    load_catalogue(writer)
    own = make_cultivar(writer, make_namer(writer), epithet="rask's russet")
    with (folder / "cultivars.csv").open("a", encoding="utf-8") as file:
        file.write(
            'malus-domestica--rasks-russet,malus-domestica,Rask\'s Russet,,,,free,,,common practice,"common practice, no source"\n'
        )
    with (folder / "cultivar_names.csv").open("a", encoding="utf-8") as file:
        file.write(
            'malus-domestica--rasks-russet,Wilma\'s Russet,synonym,common practice,"common practice, no source"\n'
        )

    report = load_catalogue(writer, folder)

    assert report.added["cultivar"] == 0 and report.added["cultivar_name"] == 1
    with database.reading() as session:
        assert {one.name for one in queries.get_cultivar(session, own.id, NOW).names} == {
            "rask's russet",
            "Wilma's Russet",
        }


# -- naming ----------------------------------------------------------------------------------------------------------


def test_a_steward_names_a_variety_with_its_spellings(
    database: Database, writer: Writer, statements: Statements
) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    names = [
        schemas.SpellingCreate(name="Wilma's Apple", kind=NameKind.SYNONYM),
        schemas.SpellingCreate(name="Raskapple"),
    ]
    statements.clear()

    made = make_cultivar(
        writer, steward, epithet='"Rask’s Seedling"', trade_designation="Snow Hill", names=names
    )

    assert len(statements) <= 7, str(statements)
    assert (
        made.epithet == "Rask's Seedling" and made.name.plain == "Malus domestica ‘Rask’s Seedling’ SNOW HILL"
    )
    assert {one.name for one in made.names} == {"Rask's Seedling", "Snow Hill", "Wilma's Apple", "Raskapple"}
    for typed in ("rasks seedlin", "snow hil", "Wilmas aple", "raskaple"):
        assert found(database, typed)[0] == "Rask's Seedling"


def test_whoever_cuts_may_name_provisionally_and_no_more(writer: Writer) -> None:
    load_catalogue(writer)
    collector = make_namer(writer, May.READ, May.COLLECT)

    made = make_cultivar(writer, collector, provisional=True)

    assert made.provisional
    with pytest.raises(NotYourWord):
        make_cultivar(writer, collector, epithet="Another", provisional=False)


@pytest.mark.parametrize(
    "typed", ["Gravensteiner", "gravensteiner", "GRAVENSTEINER", "'Gravensteiner'", "Grävensteiner"]
)
def test_a_name_that_stands_is_not_given_twice(writer: Writer, typed: str) -> None:
    load_catalogue(writer)

    with pytest.raises(AlreadySpelled) as refused:
        make_cultivar(writer, make_namer(writer), epithet=typed)

    assert refused.value.facts["cultivar_id"] == str(cultivar_id("malus-domestica--gravensteiner"))


def test_the_same_epithet_in_another_kind_is_another_variety(writer: Writer) -> None:
    load_catalogue(writer)

    assert (
        make_cultivar(
            writer, make_namer(writer), taxon_id=taxon_id("cydonia-oblonga"), epithet="Gravensteiner"
        ).kind
        == "Quince"
    )


@pytest.mark.parametrize("typed", ["🍎", "שלום עולם", "Ж" * 300, "<b>&\"';--"])
def test_names_of_any_script_are_kept_as_they_were_typed(
    database: Database, writer: Writer, typed: str
) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)

    made = make_cultivar(writer, steward, epithet=typed)

    with database.reading() as session:
        assert queries.get_cultivar(session, made.id, NOW).epithet == typed
    with pytest.raises(AlreadySpelled):
        make_cultivar(writer, steward, epithet=typed)


def test_a_known_id_an_unknown_kind_and_an_unknown_parent_are_refused(writer: Writer) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    made = make_cultivar(writer, steward)

    with pytest.raises(AlreadyKnown):
        make_cultivar(writer, steward, id=made.id, epithet="Another")
    with pytest.raises(Unusable, match="no such kind"):
        make_cultivar(writer, steward, taxon_id=uuid4(), epithet="Another")
    with pytest.raises(Unusable):
        make_cultivar(writer, steward, sport_of_id=uuid4(), epithet="Another")


def test_a_spelling_is_added_once_and_the_variety_moves_on_a_version(
    database: Database, writer: Writer
) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    body = schemas.SpellingCreate(name="Galla", source="on a donor's bag")

    writer.write_now(actions.add_spelling, steward, cultivar_id(GALA), body)

    assert found(database, "Galla")[0] == "Gala"
    with pytest.raises(AlreadySpelled):
        writer.write_now(actions.add_spelling, steward, cultivar_id(GALA), body)
    with pytest.raises(NotFound):
        writer.write_now(actions.add_spelling, steward, uuid4(), body)
    with pytest.raises(Stale):
        writer.write_now(
            actions.change_cultivar, steward, cultivar_id(GALA), 1, schemas.CultivarUpdate(group_name="X")
        )


def test_a_name_that_is_corrected_leaves_the_old_one_as_a_spelling(
    database: Database, writer: Writer
) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    made = make_cultivar(writer, make_namer(writer, May.COLLECT), provisional=True, epithet="Wilma")
    body = schemas.CultivarUpdate(epithet="Wilma Rask", trade_designation="Snow Hill", provisional=False)

    changed = writer.write_now(actions.change_cultivar, steward, made.id, 1, body)

    assert (changed.epithet, changed.provisional, changed.version) == ("Wilma Rask", False, 2)
    assert {one.name: one.kind for one in changed.names} == {
        "Wilma": "synonym", "Wilma Rask": "epithet", "Snow Hill": "trade_designation"
    }  # fmt: skip
    assert found(database, "snow hill")[0] == "Wilma Rask"
    back = writer.write_now(
        actions.change_cultivar, steward, made.id, 2, schemas.CultivarUpdate(epithet="Wilma")
    )
    assert {one.name: one.kind for one in back.names if one.kind == "epithet"} == {"Wilma": "epithet"}


def test_a_stale_edit_an_empty_one_and_a_taken_name_are_refused(writer: Writer) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)

    def change(version: int, **given: object) -> None:
        writer.write_now(
            actions.change_cultivar, steward, cultivar_id(GALA), version, schemas.CultivarUpdate(**given)
        )  # type: ignore[arg-type]

    with pytest.raises(Stale):
        change(7, epithet="Royal Gala")
    with pytest.raises(Unusable, match="null"):
        change(1, epithet=None)
    with pytest.raises(AlreadySpelled):
        change(1, epithet="Gravensteiner")
    with pytest.raises(Unusable, match="no sport of itself"):
        change(1, sport_of_id=cultivar_id(GALA))
    change(1, epithet="gala")


def test_a_look_into_the_register_is_noted_with_who_and_when(database: Database, writer: Writer) -> None:
    load_catalogue(writer)
    steward = make_namer(writer)
    envy = cultivar_id("malus-domestica--scilate")
    body = schemas.ProtectionSet(
        protection=Protection.PROTECTED,
        protected_until=date(2030, 12, 31),
        register_name="A register",
        note="no. 1",
    )

    noted = writer.write_now(actions.note_protection, steward, envy, 1, body)

    rights = noted.rights
    assert (rights.protection, rights.protected_until, rights.register_name) == (
        "protected",
        date(2030, 12, 31),
        "A register",
    )
    assert (rights.checked_on, rights.checked_by_id, noted.version) == (TODAY, steward.party_id, 2)
    with database.reading() as session:
        assert queries.facts_for_cultivars(session, [envy])[envy].rights.protected_until == date(2030, 12, 31)
    with pytest.raises(Stale):
        writer.write_now(actions.note_protection, steward, envy, 1, body)
    with pytest.raises(Unusable, match="future"):
        writer.write_now(
            actions.note_protection,
            steward,
            envy,
            2,
            body.model_copy(update={"checked_on": date(2027, 1, 1)}),
        )


def test_a_look_into_the_register_before_breakfast_is_of_the_clubs_day(
    writer: Writer, clock: FixedClock, cast: Cast
) -> None:
    """At 20:00 UTC in February it is 9:00 of the next day in Auckland."""
    load_catalogue(writer)
    with writer.database.writing_session() as session:
        session.execute(update(Club).values(zone="Pacific/Auckland"))
        session.commit()
    clock.move(timedelta(hours=10))
    tomorrow = TODAY + timedelta(days=1)
    body = schemas.ProtectionSet(protection=Protection.PROTECTED, protected_until=TODAY)

    noted = writer.write_now(
        actions.note_protection, cast.steward, cultivar_id("malus-domestica--scilate"), 1, body
    )

    assert noted.rights.checked_on == tomorrow
    assert noted.rights.warning.startswith("Its protection ran out on 14 February 2026")


def test_a_kind_outside_the_files_can_hold_a_variety(writer: Writer) -> None:
    load_catalogue(writer)
    plant = make_taxon(writer, botanical_name="Hippophae rhamnoides", genus="Hippophae", kind="Sea buckthorn")

    assert (
        make_cultivar(writer, make_namer(writer), taxon_id=plant, epithet="Leikora").name.plain
        == "Hippophae rhamnoides ‘Leikora’"
    )
