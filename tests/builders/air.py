"""Builders of a site's air: the real days of Seattle moved by whole years, and flat days."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.catalogue.tables import Cultivar, Taxon
from service.lib.write import Writer
from service.members.rules import Member
from service.trees import actions
from service.trees.schemas import AirDayTold, AirRecordCreate
from service.trees.tables import Site
from tests.science.seattle import seattle

LATITUDE = 47.6
MOVED = 12  # years, as the demo moves them


def seattle_days(first: date, last: date, *, moved_days: int = 0) -> list[AirDayTold]:
    """The days from first to last, after they were moved; `moved_days` more for the other half of the earth."""
    air = seattle()
    told = (
        AirDayTold(
            day=day.replace(year=day.year + MOVED) + timedelta(moved_days), lowest_c=low, highest_c=high
        )
        for day, low, high in zip(air.days, air.lowest_c, air.highest_c, strict=True)
    )
    return [each for each in told if first <= each.day <= last]


def tell_air(writer: Writer, member: Member, site_id: UUID, days: Iterable[AirDayTold]) -> None:
    body = AirRecordCreate(measured="the station of the airport", days=list(days))
    writer.write_now(actions.record_air, member, site_id, body)


def set_latitude(writer: Writer, site_id: UUID, latitude: float | None) -> None:
    def act(session: Session) -> None:
        longitude = None if latitude is None else -20.0
        session.execute(
            update(Site).where(col(Site.id) == site_id).values(latitude=latitude, longitude=longitude)
        )

    writer.write_now(act, None)


def set_group(writer: Writer, taxon_id: UUID, group: str) -> None:
    def act(session: Session) -> None:
        session.execute(update(Taxon).where(col(Taxon.id) == taxon_id).values(species_group=group))

    writer.write_now(act, None)


def set_variety(writer: Writer, cultivar_id: UUID, epithet: str) -> None:
    """Another name for a variety that stands there, so that its own need is told."""

    def act(session: Session) -> None:
        session.execute(update(Cultivar).where(col(Cultivar.id) == cultivar_id).values(epithet=epithet))

    writer.write_now(act, None)
