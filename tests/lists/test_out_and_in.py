"""What one club took away as plain tables, another moves in: people and trees come back as they were."""

from __future__ import annotations

import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import col

from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.lib.database import Database
from service.lists.routes import router
from service.members.tables import Area, Party
from service.provenance.queries import write_everything
from service.provenance.rules.taking_away import TakenAs
from service.trees.tables import Site, SourceTree
from tests.builders.catalogue import load_catalogue
from tests.infra.demo import kept_demo
from tests.lists.moving import look_at, put, send, take
from tests.storage.desk import Desk


def trees(database: Database) -> set[tuple[object, ...]]:
    """What a tree is to people, without identities and numbers, which every record gives anew."""
    stock, between = aliased(Rootstock), aliased(Rootstock)
    with database.reading() as session:
        found = session.execute(
            select(
                col(Taxon.botanical_name), col(Cultivar.epithet), col(SourceTree.name_as_told), col(Site.name),
                col(SourceTree.where_on_site),
                col(Party.name), col(SourceTree.may_cut), col(SourceTree.most_sticks), col(SourceTree.planted_year),
                col(SourceTree.identity), col(stock.name), col(between.name), col(SourceTree.no_propagation_contract),
            )
            .join(Taxon, col(Taxon.id) == col(SourceTree.taxon_id))
            .outerjoin(Cultivar, col(Cultivar.id) == col(SourceTree.cultivar_id))
            .join(Site, col(Site.id) == col(SourceTree.site_id))
            .join(Party, col(Party.id) == col(SourceTree.owner_id))
            .outerjoin(stock, col(stock.id) == col(SourceTree.rootstock_id))
            .outerjoin(between, col(between.id) == col(SourceTree.interstem_id))
        )  # fmt: skip
        return {tuple(row) for row in found}


def people(database: Database) -> set[tuple[object, ...]]:
    with database.reading() as session:
        found = session.execute(
            select(col(Party.name), col(Party.kind), col(Area.name), col(Party.email))
            .outerjoin(Area, col(Area.id) == col(Party.area_id))
            .where(col(Party.forgotten_at).is_(None))
        )
        return {tuple(row) for row in found}


@pytest.mark.databases("sqlite")
def test_people_and_trees_of_one_club_come_back_as_they_were_in_another(
    database, writer, clock, tmp_path: Path
) -> None:
    theirs = Database(kept_demo(tmp_path / "theirs").resolved_database_url())
    write_everything(theirs, tmp_path / "everything.zip", TakenAs.ZIP, datetime(2026, 2, 21, 9, tzinfo=UTC))
    with zipfile.ZipFile(tmp_path / "everything.zip") as packed:
        tables = {name: packed.read(f"{name}.csv") for name in ("party", "source_tree")}
    load_catalogue(writer)
    desk, already = Desk(database, writer, clock, router), people(database)

    for sort, table in (("people", "party"), ("trees", "source_tree")):
        list_id = send(desk, tables[table], sort=sort, name=f"{table}.csv")
        seen = look_at(desk, list_id)
        if seen["questions"]:
            answers = {one["key"]: _answer(one) for one in seen["questions"]}
            put(desk, list_id, "answers", answers=answers)
            seen = look_at(desk, list_id)
        assert [one for one in seen["report"] if one["state"] == "refused"] == []
        taken = take(desk, list_id)
        assert taken.status_code == 201, taken.text

    assert people(database) - already == people(theirs)
    with database.reading() as session:
        known = set(session.execute(select(col(Cultivar.epithet))).scalars())
    # A variety that the other club had entered itself is kept as its name was told.
    wanted = {
        (kind, *((name, told) if name is None or name in known else (None, told or name)), *rest)
        for kind, name, told, *rest in trees(theirs)
    }
    assert trees(database) == wanted
    theirs.close()


def _answer(question: dict) -> str:
    """The one offered that is spelt the same, else as it was told or new."""
    same = [one["value"] for one in question["options"] if one["words"].startswith(question["spelling"])]
    offered = [one["value"] for one in question["options"]]
    return same[0] if same else next(one for one in ("new", "as_told") if one in offered)
