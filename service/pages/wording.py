"""How values are said on a page: instants in the club's zone, days, codes, counts, lengths and temperatures."""

from __future__ import annotations

from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from markupsafe import Markup

from service.catalogue.rules.names import format_cultivar_name
from service.lib.clock import as_utc
from service.lib.codes import group_code

MONTHS = "January February March April May June July August September October November December".split()
IRREGULAR = {
    "match": "matches",
    "box": "boxes",
    "branch": "branches",
    "leaf": "leaves",
    "person": "people",
    "party": "parties",
}
NO_BREAK = "\u00a0"
MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Viewer:
    """For whom a page is drawn: the zone and units to speak in, and the token their forms carry."""

    zone: str = "UTC"
    inches: bool = False
    csrf_token: str = ""


viewer: ContextVar[Viewer] = ContextVar("viewer")
_NOBODY = Viewer()


def current_viewer() -> Viewer:
    return viewer.get(_NOBODY)


def _zoned(at: datetime) -> datetime:
    return as_utc(at).astimezone(ZoneInfo(current_viewer().zone))


def day(value: date | datetime | None, form: str = "long") -> str:
    """A day in words: `20 March 2026`; `short` gives `20 Mar 2026`, `brief` leaves out the year."""
    if value is None:
        return ""
    on = _zoned(value).date() if isinstance(value, datetime) else value
    month = MONTHS[on.month - 1]
    said = f"{on.day}{NO_BREAK}{month if form == 'long' else month[:3]}"
    return said if form == "brief" else f"{said}{NO_BREAK}{on.year}"


def local(value: datetime | None, form: str = "long") -> str:
    """An instant as the club's clock shows it: `20 March 2026, 14:05`."""
    return "" if value is None else f"{day(value, form)}, {_zoned(value):%H:%M}"


def code_groups(code: str | None) -> str:
    """A code as it is printed; the groups never break apart."""
    return "" if not code else group_code(code).replace(" ", NO_BREAK)


def plural(count: int, one: str, many: str = "") -> str:
    """A count with its noun: `1 stick`, `12 sticks`."""
    if count == 1:
        return f"1{NO_BREAK}{one}"
    return f"{count:,}{NO_BREAK}{many or IRREGULAR.get(one, one + 's')}".replace(",", "\u202f")


def mm(value: float | None) -> str:
    """A length with its unit, in inches for who wants them."""
    if value is None:
        return ""
    if current_viewer().inches:
        return f"{value / MM_PER_INCH:.2g}{NO_BREAK}in"
    return f"{value:g}{NO_BREAK}mm"


def temperature(value_c: float | None) -> str:
    """A temperature with its unit and a true minus sign, in °F for who wants it."""
    if value_c is None:
        return ""
    degrees, unit = (value_c * 9 / 5 + 32, "°F") if current_viewer().inches else (value_c, "°C")
    return f"{degrees:.1f}".replace("-", "\u2212") + f"{NO_BREAK}{unit}"


def spread(low: float, high: float, unit: str = "") -> str:
    """A range with an en dash: `10–14 days`."""
    said = f"{low:g}" if low == high else f"{low:g}\u2013{high:g}"
    return f"{said}{NO_BREAK}{unit}" if unit else said


def plant_name(botanical: str = "", epithet: str = "", group: str = "", trade: str = "") -> Markup:
    """A plant's name with each part in its own type."""
    return Markup(format_cultivar_name(botanical, epithet, group, trade).html)  # noqa: S704  every part is escaped there
