"""How cold it was: the air at the sites, the fridge's logger, and a thermometer on a wall."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from service.cli.season.files import Row, read_day, read_rows, told
from service.cli.season.story import Story
from service.grafting.actions.learning import learning
from service.lib.jobs import AT_ONE_GO, Kind, Worker, drop_kind
from service.members import queries as member_queries
from service.members.actions import mailing
from service.storage import actions as storage
from service.storage.actions.dosing import KEEPING, ask_for_doses, ask_for_store, dosing, keeping
from service.storage.actions.forecasts import ask_for_forecasts, forecasting
from service.storage.rules import last_moment
from service.storage.schemas import (
    DialReadingCreate,
    LoggerCreate,
    ReadingBatch,
    ReadingCreate,
)
from service.trees import actions as trees
from service.trees.schemas import AirDayTold, AirRecordCreate

HOUR = timedelta(hours=1)
A_MONTH = timedelta(days=40)  # and some days: the months are told at the first deed of the next
Settings = Mapping[str, Any]


def tell_air(story: Story, folder: Path, settings: Settings) -> None:
    """The real days of the file, moved by whole days so that none is lost, up to yesterday."""
    air = settings["air"]
    today = story.clock.at.date()
    days = [
        AirDayTold(day=day, lowest_c=float(row["lowest"]), highest_c=float(row["highest"]))
        for row in read_rows(folder, "air.csv")
        if (day := date.fromisoformat(row["date"]) + timedelta(days=air["days"])) < today
    ]
    for site in settings["site"]:
        body = AirRecordCreate(
            id=story.new("air", site["key"]), measured=air["measured"], days=days
        )  # fmt: skip
        story.do(trees.record_air, story.asker(air["by"]), story.the("site", site["key"]), body)


def hang_logger(story: Story, row: Row) -> None:
    place = LoggerCreate(
        id=story.new("logger", row["key"]), place_id=story.the("place", row["place"]), **told(row, "name", "serial", "note")
    )  # fmt: skip
    story.do(storage.add_logger, story.asker(row["by"]), place)


def send_readings(story: Story, row: Row) -> None:
    """The hours of the fridge since the last sending: invented, each telling the same."""
    first, last = (read_day(row[name], story.zone) for name in ("from", "at"))
    hours = [
        ReadingCreate(at=at, temp=temp, humidity=humidity if row["humidity"] == "yes" else None)
        for at, temp, humidity in fridge_hours(first, last, _spells(story, row))
    ]
    story.do(storage.send_readings, story.asker(row["by"]), story.the("logger", row["key"]), ReadingBatch(readings=hours))  # fmt: skip


def _spells(story: Story, row: Row) -> Sequence[tuple[datetime, datetime]]:
    words = row["broken"].split(" to ") if row["broken"] else []
    return [(read_day(words[0], story.zone), read_day(words[1], story.zone))] if words else []


def fridge_hours(
    first: datetime, last: datetime, broken: Sequence[tuple[datetime, datetime]]
) -> Iterator[tuple[datetime, Decimal, Decimal]]:
    """What a logger in a household fridge writes each hour, in °C and percent, both to a tenth; invented.

    Around 2.5 °C and 94 % with the door's day, and where it was broken it warms towards a garage of 12 °C and 78 %, with ten
    hours to cool.
    """
    at = first.astimezone(UTC).replace(minute=0, second=0, microsecond=0) + HOUR
    while at <= last:
        chance = random.Random(at.isoformat())  # noqa: S311 - invented readings, the same in every telling
        usual = 2.5 + 0.6 * math.sin((at.hour - 9) / 24 * math.tau) + chance.gauss(0, 0.15)
        warm = max((_warmed(at, spell) for spell in broken), default=0.0)
        damp = 94 - 1.5 * math.sin((at.hour - 9) / 24 * math.tau) + chance.gauss(0, 0.6)
        yield at, Decimal(f"{usual + warm * (12.0 - usual):.1f}"), Decimal(f"{damp + warm * (78 - damp):.1f}")
        at += HOUR


def _warmed(at: datetime, spell: tuple[datetime, datetime]) -> float:
    """How far from the fridge's own cold to the garage's, 0 to 1."""
    began, ended = spell
    if at < began:
        return 0.0
    if at <= ended:
        return 1 - math.exp(-((at - began) / HOUR) / 20)
    return (1 - math.exp(-((ended - began) / HOUR) / 20)) * math.exp(-((at - ended) / HOUR) / 3)


def read_dial(story: Story, row: Row) -> None:
    body = DialReadingCreate(
        id=story.new("dial", f"{row['store']} {row['at']}"), store_id=story.the("store", row["store"]),
        reset_done=row["reset"] == "yes", **told(row, "now", "lowest", "highest", "note"),
    )  # fmt: skip
    story.do(storage.read_dial, story.asker(row["by"], row["for"]), body)


# Deeds after which the service itself looks for what rings.
RING = (send_readings, read_dial)


def look_what_rings(story: Story) -> None:
    """What the service does in the background after readings came."""
    _worker(story).run_due()


def write_weekly_letters(story: Story, now: datetime) -> None:
    """The last letters to hosts before the demo's own present, each at the club's day and hour."""
    with story.writer.database.reading() as session:
        club = member_queries.club(session)
    story.clock.at = last_moment(now, club.weekly_on, club.weekly_hour, club.zone)
    reckon_keeping(story)  # as each day by then
    worker = _worker(story)
    worker.ticks = [storage.weekly_wanted]
    worker.look_at_the_clock()
    worker.run_due()


def reckon_keeping(story: Story) -> None:
    """How the wood in every store keeps as of now; what waited for it until then is in that."""
    stores = [story.the(kind, key) for kind, key in list(story.ids) if kind == "store"]
    for store_id in stores:
        story.writer.write_now(ask_for_doses, None, store_id, AT_ONE_GO)
    _worker(story).run_due()
    story.writer.write_now(drop_kind, None, KEEPING)
    for store_id in stores:
        story.writer.write_now(ask_for_store, None, store_id, AT_ONE_GO)
    _worker(story, keeping()).run_due()


def end_of_month(story: Story) -> None:
    """What the service does in the background all along, here once a month: forecasts of what went out are kept, takes teach."""
    story.writer.write_now(ask_for_forecasts, None, A_MONTH.days)
    _worker(story, forecasting(), learning()).run_due()


def _worker(story: Story, *more: Kind) -> Worker:
    """As in service, but for mail, which the demo never sends; it looks at the clock only when told."""
    kinds = [mailing(None), storage.ringing(), dosing(), storage.weekly_letters(), *more]
    return Worker(story.writer.database, story.writer, kinds)
