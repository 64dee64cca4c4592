"""Telling a whole season: every row of every file at its own moment, in the order in which it happened."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from uuid import UUID
from zoneinfo import ZoneInfo

from pydantic import ValidationError

from service.cli.season import bench, cold, stops, wood
from service.cli.season.files import DEMO_DIR, Row, SeasonFileWrong, read_day, read_rows, read_settings
from service.cli.season.opening import open_record
from service.cli.season.story import Story
from service.lib.clock import FixedClock
from service.lib.errors import Problem
from service.lib.write import Writer
from service.members.rules import Role
from service.members.signin.passwords import hash_password

Act = Callable[[Story, Row], None]

# In the order in which things of the same minute happen.
ACTS: Mapping[str, Act] = {
    "tree_checks.csv": wood.check_trees,
    "cuts.csv": wood.cut,
    "receipts.csv": wood.receive,
    "put_away.csv": wood.put_away,
    "loggers.csv": cold.hang_logger,
    "readings.csv": cold.send_readings,
    "dials.csv": cold.read_dial,
    "bundle_checks.csv": wood.check_bundle,
    "sticks.csv": wood.move_sticks,
    "grafts.csv": bench.graft,
    "takes.csv": bench.check_take,
    "planted_out.csv": bench.plant_out,
    "sheets.csv": stops.print_sheet,
    "stops.csv": stops.stop,
}


@dataclass(frozen=True)
class SignInShown:
    """A way into the demo, to be printed: every account of it has the same password."""

    role: Role
    name: str
    sign_in_name: str


@dataclass(frozen=True)
class Season:
    """What whoever opens the demo needs to know of it."""

    now: datetime
    password: str
    sign_ins: tuple[SignInShown, ...]
    codes: Mapping[str, str]
    ids: Mapping[tuple[str, str], UUID]
    deeds: int


def load_season(writer: Writer, clock: FixedClock, folder: Path = DEMO_DIR) -> Season:
    """Tell the season to an empty record with its catalogue loaded; the clock ends at the season's own present."""
    settings = read_settings(folder)
    zone = settings["club"]["zone"]
    story = Story(writer, clock, zone)
    clock.at = moment(settings["begins"], zone)
    open_record(story, folder, settings, hash_password(settings["password"]))
    told_later = _plant(story, folder)
    rows = [(act, row) for name, act in ACTS.items() for row in read_rows(folder, name)] + told_later
    month = ""
    # Sorting keeps the order of the files for what happened in the same minute.
    for act, row in sorted(rows, key=lambda pair: pair[1]["at"]):
        if row["at"][:7] != month:
            month = row["at"][:7]
            _tell(story, lambda story, _row: cold.end_of_month(story), row)
        _tell(story, act, row)
        if act in cold.RING:
            cold.look_what_rings(story)
    cold.end_of_month(story)
    cold.write_weekly_letters(story, moment(settings["now"], zone))
    clock.at = moment(settings["now"], zone)
    cold.tell_air(story, folder, settings)
    cold.reckon_keeping(story)
    return Season(
        clock.at, settings["password"], _sign_ins(folder), dict(story.codes), dict(story.ids), len(rows)
    )


def _plant(story: Story, folder: Path) -> list[tuple[Act, Row]]:
    """The trees that stood from the beginning at once; those met later are told in their turn."""
    rows = read_rows(folder, "trees.csv")
    wood.add_trees(story, [row for row in rows if not row["at"]])
    return [(lambda story, row: wood.add_trees(story, [row]), row) for row in rows if row["at"]]


def _tell(story: Story, act: Act, row: Row) -> None:
    try:
        story.clock.at = read_day(row["at"], story.zone)
        act(story, row)
    except (Problem, ValidationError, ValueError) as error:
        raise SeasonFileWrong(f"{row['_place']}: {error}") from error


def moment(at: datetime, zone: str) -> datetime:
    """An instant written in the club's own time."""
    return at.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _sign_ins(folder: Path) -> tuple[SignInShown, ...]:
    """One sign-in for each role; whoever has several is shown under the one that may do most."""
    shown: dict[Role, SignInShown] = {}
    for row in read_rows(folder, "people.csv"):
        if row["sign_in"]:
            role = [each for each in Role if each in row["roles"].split()][-1]
            shown.setdefault(role, SignInShown(role, row["name"], row["sign_in"]))
    return tuple(shown[role] for role in Role if role in shown)
