"""Sites: where trees stand, and in which plant-health area."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from sqlmodel import Session

from service.lib.clock import check_day
from service.lib.errors import Unusable
from service.lib.write import insert_rows, recorded_at
from service.members import queries as members
from service.members.actions.versions import change_row, remove_unused
from service.members.rules import Member, UnknownArea
from service.trees import queries
from service.trees.actions.following import note_changed_trees
from service.trees.rules.seeing import site_warnings
from service.trees.schemas import SiteCreate, SiteRead, SiteUpdate
from service.trees.tables import Site


def add_sites(session: Session, member: Member, body: list[SiteCreate]) -> list[SiteRead]:
    """Enter sites, each in its plant-health area."""
    now, zone = recorded_at(session), members.club(session).zone
    areas = members.facts_for_areas(session, {site.area_id for site in body})
    for site in body:
        if site.area_id not in areas:
            raise UnknownArea(
                "The site’s plant-health area is not in the record.", field="area_id", id=str(site.area_id)
            )
        if site.area_checked_on is not None:
            check_day(site.area_checked_on, now, zone, field="area_checked_on")
    rows = [{**site.model_dump(), "version": 1} for site in body]
    insert_rows(session, Site, rows)
    return [
        SiteRead(**row, area_name=areas[row["area_id"]].name, warnings=site_warnings(row["latitude"]))
        for row in rows
    ]


def add_site(session: Session, member: Member, body: SiteCreate) -> SiteRead:
    return add_sites(session, member, [body])[0]


def remove_sites(session: Session, site_ids: Collection[UUID]) -> None:
    """Sites that were entered by mistake, on which nothing ever stood."""
    remove_unused(session, Site, site_ids)


def change_site(session: Session, member: Member, site_id: UUID, body: SiteUpdate, version: int) -> SiteRead:
    """Correct a site. Its area may change only when somebody asked the authority again."""
    told = body.told()
    if body.area_checked_on is not None:
        check_day(
            body.area_checked_on, recorded_at(session), members.club(session).zone, field="area_checked_on"
        )
    if body.area_id is not None and body.area_id not in members.facts_for_areas(session, [body.area_id]):
        raise UnknownArea(
            "The site’s plant-health area is not in the record.", field="area_id", id=str(body.area_id)
        )
    change_row(session, Site, site_id, version, told)
    site = queries.get_site(session, site_id)
    if (site.latitude is None) != (site.longitude is None):
        raise Unusable("A point has a latitude and a longitude; leave out or empty both.", field="latitude")
    if {"region", "name", "area_id"} & set(told):
        note_changed_trees(session, queries.trees_of_site(session, site_id))
    return site
