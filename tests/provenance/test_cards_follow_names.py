"""Answers follow the catalogue, areas and the club's zone: what they say is renewed in the same change."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

import orjson
from sqlmodel import Session, select

from service.catalogue.tables import Cultivar
from service.lib.database import Database
from service.lib.write import Writer, touch_bundles
from service.members import actions as members
from service.members.actions import note_everything_changed, supply_all_bundles
from service.members.schemas import AreaUpdate, ClubUpdate
from service.provenance.actions import follow_changes
from service.provenance.queries import all_bundles
from service.provenance.tables import AnswerCard
from service.trees import actions as trees
from service.trees.schemas import SiteUpdate
from tests.builders.catalogue import load_catalogue
from tests.builders.grafting import APPLE, GALA, _few_varieties, make_bench, make_wood
from tests.builders.provenance import Yard


def test_a_renamed_area_is_told_by_the_next_scan(yard: Yard) -> None:
    supply_all_bundles(all_bundles)
    (bundle,) = yard.cut(4)

    yard.writer.write_now(
        members.change_area, yard.cast.administrator, yard.orchard.area_id, AreaUpdate(name="Upper Vale"), 1
    )

    assert yard.scan(bundle.code).card["origin"]["area"] == "Upper Vale"


def test_a_renamed_site_is_told_by_the_next_scan(yard: Yard) -> None:
    (bundle,) = yard.cut(4)

    yard.writer.write_now(
        trees.change_site, yard.cast.steward, yard.orchard.site_id, SiteUpdate(region="the ridge"), 1
    )

    assert yard.scan(bundle.code).card["origin"]["region"] == "the ridge"


def test_another_zone_of_the_club_changes_the_days_that_answers_tell(yard: Yard) -> None:
    supply_all_bundles(all_bundles)
    yard.writer.clock.at = datetime(2026, 2, 14, 22, 30, tzinfo=UTC)
    (bundle,) = yard.cut(4)
    yard.stop()
    made = yard.writer.write_now(members.ensure_club, None)

    yard.writer.write_now(
        members.change_club, yard.cast.administrator, ClubUpdate(zone="Pacific/Auckland"), made.version
    )

    assert yard.scan(bundle.code).card["stops"][0]["since"] == "2026-02-15"


def _stored(database: Database, bundle_id: UUID) -> dict[str, Any]:
    with database.reading() as session:
        body = session.exec(select(AnswerCard.body).where(AnswerCard.bundle_id == bundle_id)).one()
    return orjson.loads(body)


def _rename_gala(session: Session, bundle_id: UUID) -> None:
    gala = session.get(Cultivar, GALA)
    assert gala is not None
    gala.trade_designation = "Early Star"
    touch_bundles(session, [bundle_id])
    session.flush()


def test_a_catalogue_that_is_loaded_anew_renews_every_answer(writer: Writer, database: Database) -> None:
    follow_changes(writer)
    supply_all_bundles(all_bundles)
    ground = make_bench(writer)
    wood = make_wood(writer, ground, APPLE, GALA)
    writer.write_now(_rename_gala, None, wood)
    assert _stored(database, wood)["name"]["trade_designation"] == "Early Star"

    load_catalogue(writer, _few_varieties())

    assert _stored(database, wood)["name"]["trade_designation"] == ""


def test_nothing_is_renewed_where_the_files_tell_nothing_new(writer: Writer) -> None:
    supply_all_bundles(all_bundles)
    ground = make_bench(writer)
    make_wood(writer, ground, APPLE, GALA)
    touched: list[int] = []
    writer.hooks.append(lambda _session, ids: touched.append(len(ids)))

    load_catalogue(writer, _few_varieties())

    assert sum(touched) == 0
    writer.write_now(note_everything_changed, None)
    assert sum(touched) == 1
