"""Logged readings: columns of them, and a day of them in one small block of bytes.

A reading is an instant to the whole second, a temperature as it was given (a decimal number in °C or °F), a humidity
where one was given, and a number that tells where it came from. A block gives back exactly what was put in.

The block: one byte of version, then a deflate stream (RFC 1951, in the wrapper of RFC 1950) of a head and the columns.
Each column is the differences between neighbours, in the least width that fits, all low bytes first: what changes little
is then written many times over, which is what deflate is good at.

numpy is imported where it is needed, to keep the start quick.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from typing import Any

    from numpy import ndarray

Column: TypeAlias = "ndarray[Any, Any]"
DAY_SECONDS = 86_400
HOUR_SECONDS = 3_600
MOST_DECIMALS = 6
FAHRENHEIT, DRY = 1, 2  # bits of a reading's mark: given in °F; no humidity given
_VERSION = 1
_HEAD = struct.Struct("<IBB")
_COLUMN = struct.Struct("<Bq")
_COLUMNS = 5


class DamagedBlock(ValueError):
    """A block that no reading can be read from."""


@dataclass(frozen=True)
class Readings:
    """Readings in the order of time: equally long columns of whole numbers, and how many of their digits are decimals."""

    at: Column  # seconds since the beginning of 1970, UTC
    temp: Column  # as given, times 10 ** temp_decimals
    humidity: Column  # in percent, times 10 ** humidity_decimals; 0 where the mark says that none was given
    marks: Column
    source: Column
    temp_decimals: int = 0
    humidity_decimals: int = 0

    def __len__(self) -> int:
        return len(self.at)

    def pick(self, places: Column | slice) -> Readings:
        """Those at these places, in that order."""
        return Readings(
            self.at[places], self.temp[places], self.humidity[places], self.marks[places], self.source[places],
            self.temp_decimals, self.humidity_decimals,
        )  # fmt: skip

    def days(self) -> Iterator[tuple[int, Readings]]:
        """Day by day (days since the beginning of 1970, UTC), in order."""
        import numpy as np

        days, begins = np.unique(self.at // DAY_SECONDS, return_index=True)
        ends = np.append(begins[1:], len(self.at))[: len(days)]
        for day, begin, end in zip(days.tolist(), begins.tolist(), ends.tolist(), strict=True):
            yield day, self.pick(slice(begin, end))

    def scaled(self, temp_decimals: int, humidity_decimals: int) -> Readings:
        """The same readings written with as many decimals or more."""
        return Readings(
            self.at, self.temp * 10 ** (temp_decimals - self.temp_decimals),
            self.humidity * 10 ** (humidity_decimals - self.humidity_decimals), self.marks, self.source, temp_decimals, humidity_decimals,
        )  # fmt: skip

    @property
    def is_fahrenheit(self) -> Column:
        return self.marks & FAHRENHEIT > 0

    @property
    def has_humidity(self) -> Column:
        return ~(self.marks & DRY > 0)

    def celsius(self) -> Column:
        """Temperatures in °C, as near as a number of this machine comes."""
        import numpy as np

        given = self.temp / 10**self.temp_decimals
        return np.asarray(np.where(self.is_fahrenheit, (given - 32) / 1.8, given))

    def percent(self) -> Column:
        """Humidities in percent; not a number where none was given."""
        import numpy as np

        percent = self.humidity / 10**self.humidity_decimals
        return np.asarray(np.where(self.has_humidity, percent, np.nan))


def make_readings(
    at: Sequence[int], temp: Sequence[int], humidity: Sequence[int], marks: Sequence[int], source: int | Sequence[int] = 0,
    temp_decimals: int = 0, humidity_decimals: int = 0,
) -> Readings:  # fmt: skip
    """Columns from plain lists, put into the order of time; of one instant, in the order given."""
    import numpy as np

    order = np.argsort(np.asarray(at, np.int64), kind="stable")
    whole = (np.asarray(column, np.int64)[order] for column in (at, temp, humidity))
    if isinstance(source, int):
        source = [source] * len(order)
    return _readings(
        *whole, np.asarray(list(marks), np.uint8)[order], np.asarray(source, np.int64)[order],
        decimals=(temp_decimals, humidity_decimals),
    )  # fmt: skip


def _readings(*columns: Column, decimals: tuple[int, int]) -> Readings:
    at, temp, humidity, marks, source = columns
    return Readings(at, temp, humidity, marks, source, *decimals)


def no_readings() -> Readings:
    return make_readings((), (), (), ())


def together(parts: Sequence[Readings]) -> Readings:
    """Readings of several stretches, each later than the one before, as one."""
    import numpy as np

    if not parts:
        return no_readings()
    if len(parts) == 1:
        return parts[0]
    temp_decimals = max(part.temp_decimals for part in parts)
    humidity_decimals = max(part.humidity_decimals for part in parts)
    even = [
        part
        if (part.temp_decimals, part.humidity_decimals) == (temp_decimals, humidity_decimals)
        else part.scaled(temp_decimals, humidity_decimals)
        for part in parts
    ]
    names = ("at", "temp", "humidity", "marks", "source")
    columns = (np.concatenate([getattr(part, name) for part in even]) for name in names)
    return _readings(*columns, decimals=(temp_decimals, humidity_decimals))


# -- a day as bytes ------------------------------------------------------------------------------------------------


def pack_day(readings: Readings) -> bytes:
    """One day's readings as a block. They must lie on one day (UTC), in order, no instant twice."""
    import numpy as np

    head = _HEAD.pack(len(readings), readings.temp_decimals, readings.humidity_decimals)
    # Of steady readings the differences of the differences are all naught.
    steps = np.diff(readings.at, prepend=0)
    columns = (steps, readings.temp, readings.humidity, readings.marks.astype(np.int64), readings.source)
    return bytes([_VERSION]) + zlib.compress(head + b"".join(map(_packed, columns)), 9)


def _packed(column: Column) -> bytes:
    import numpy as np

    steps = np.diff(column)
    least, most = (int(steps.min()), int(steps.max())) if len(steps) else (0, 0)
    width = next(
        each for each in (1, 2, 4, 8) if -(1 << (8 * each - 1)) <= least and most < 1 << (8 * each - 1)
    )
    lowest_first = steps.astype(f"<i{width}").view(np.uint8).reshape(-1, width).T
    return _COLUMN.pack(width, int(column[0]) if len(column) else 0) + lowest_first.tobytes()


def unpack_day(block: bytes) -> Readings:
    """A day's readings from their block. Raises `DamagedBlock`."""
    import numpy as np

    try:
        if block[0] != _VERSION:
            raise DamagedBlock(f"The block is of version {block[0]}, which this program cannot read.")
        raw = zlib.decompress(block[1:])
        count, temp_decimals, humidity_decimals = _HEAD.unpack_from(raw)
        place, columns = _HEAD.size, []
        for _ in range(_COLUMNS):
            column, place = _unpacked(raw, place, count)
            columns.append(column)
        if place != len(raw):
            raise DamagedBlock("The block holds more than it says.")
    except (IndexError, KeyError, struct.error, zlib.error) as error:
        raise DamagedBlock(str(error)) from error
    steps, temp, humidity, marks, source = columns
    return Readings(
        steps.cumsum(), temp, humidity, marks.astype(np.uint8), source, temp_decimals, humidity_decimals
    )


def _unpacked(raw: bytes, place: int, count: int) -> tuple[Column, int]:
    import numpy as np

    width, first = _COLUMN.unpack_from(raw, place)
    begin, steps = place + _COLUMN.size, max(count - 1, 0)
    end = begin + width * steps
    if width not in (1, 2, 4, 8) or end > len(raw):
        raise DamagedBlock("The block is cut short.")
    column = np.empty(count, np.int64)
    if count:
        column[0] = first
        lowest_first = np.frombuffer(raw, np.uint8, width * steps, begin).reshape(width, steps)
        column[1:] = np.ascontiguousarray(lowest_first.T).view(f"<i{width}").ravel()
    return column.cumsum(), end


# -- putting readings together -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Merge:
    """What stands after new readings came to old ones: the first to tell of an instant stays."""

    readings: Readings
    added: int
    same: int
    differing: tuple[int, ...]  # places among the new ones that say another value than what stands


def merge(stands: Readings, new: Readings) -> Merge:
    """Old and new readings as one: the same instant and value once, the same instant and another value told."""
    import numpy as np

    if not len(new):
        return Merge(stands, 0, 0, ())
    if len(stands):
        temp_decimals = max(stands.temp_decimals, new.temp_decimals)
        humidity_decimals = max(stands.humidity_decimals, new.humidity_decimals)
        stands = stands.scaled(temp_decimals, humidity_decimals)
        new = new.scaled(temp_decimals, humidity_decimals)
        both = together([stands, new])
    else:
        both = new
    # Stable, so that of one instant what stands comes first, then the new ones in their order.
    order = np.argsort(both.at, kind="stable")
    ordered = both.pick(order)
    is_first = np.diff(ordered.at, prepend=ordered.at[0] - 1) > 0
    first_of = np.flatnonzero(is_first)[np.cumsum(is_first) - 1]
    wet = ordered.has_humidity
    differs = (
        (ordered.temp != ordered.temp[first_of])
        | (ordered.marks != ordered.marks[first_of])
        | (wet & (ordered.humidity != ordered.humidity[first_of]))
    )
    again = int((~is_first).sum())
    differing = np.sort(order[differs] - len(stands))
    kept = ordered.pick(is_first)
    return Merge(kept, len(kept) - len(stands), again - len(differing), tuple(differing.tolist()))


def without_source(readings: Readings, source: int) -> Readings:
    """What is left when all that came from one place is taken out."""
    return readings.pick(readings.source != source)


def without_spans(readings: Readings, spans: Sequence[tuple[int, int]]) -> Readings:
    """What is left when stretches are left out: from an instant up to, and including, another."""
    import numpy as np

    if not spans or not len(readings):
        return readings
    kept = np.ones(len(readings), bool)
    for begin, end in spans:
        kept[np.searchsorted(readings.at, begin) : np.searchsorted(readings.at, end, "right")] = False
    return readings.pick(kept)


# -- hours -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Hours:
    """Means of whole hours (UTC), for each hour with a reading in it, in order."""

    hour: Column  # hours since the beginning of 1970, UTC
    temp_c: Column
    humidity: Column  # in percent; not a number where no reading of the hour had one


def hours_of(readings: Readings) -> Hours:
    """The hourly means of readings."""
    import numpy as np

    hours, begins, counts = np.unique(readings.at // HOUR_SECONDS, return_index=True, return_counts=True)
    if not len(hours):
        return Hours(hours, np.empty(0), np.empty(0))
    temp = np.add.reduceat(readings.celsius(), begins) / counts
    wet = readings.has_humidity
    sums = np.add.reduceat(np.where(wet, readings.humidity, 0), begins) / 10**readings.humidity_decimals
    of = np.add.reduceat(wet.astype(np.int64), begins)
    return Hours(hours, temp, np.where(of > 0, sums / np.maximum(of, 1), np.nan))
