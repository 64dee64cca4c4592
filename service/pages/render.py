"""Pages from templates: one environment, its filters, and the words told after a form was saved."""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import re
from datetime import UTC, date, datetime
from functools import lru_cache, partial
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote
from zoneinfo import ZoneInfo

from fastapi import Request, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape
from starlette.responses import HTMLResponse

from service.lib.codes import group_code
from service.lib.counted import several
from service.lib.paging import MOST_COUNTED
from service.lib.schemas import Answer
from service.members import queries as member_queries
from service.pages import acting
from service.pages.choices import shown
from service.pages.compiled import CompiledTemplates
from service.storage.rules import rang_name, rang_words
from service.storage.rules.keeping_short import looked_words, one_line, short_words
from service.storage.rules.keeping_words import limits_words
from service.trees.rules import not_seen_words

HERE = Path(__file__).parent
STATIC = HERE / "static"
TOLD_COOKIE = "told"
SAME_WINTER_DAYS = 270  # a day of the same name lies further off
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_DAY = re.compile(rf"\b(\d{{1,2}}) ({'|'.join(_MONTHS)}) (\d{{4}})\b(?:, (\d\d):(\d\d) UTC\b)?")


@lru_cache(maxsize=64)
def static(name: str) -> str:
    """The address of a file of ours, which changes when the file does; of one in a folder, when any file there does."""
    file = STATIC / name
    files = [file] if file.parent == STATIC else sorted(file.parent.iterdir())
    digest = hashlib.sha256(b"".join(one.read_bytes() for one in files)).hexdigest()[:12]
    return f"/static/{name}?v={digest}"


def day(value: date | datetime | str | None, zone: str = "UTC") -> Markup:
    """A day nobody can read the wrong way round, and no program either: `14 January 2026`."""
    if value is None:
        return Markup("—")
    if isinstance(value, str):
        value = date.fromisoformat(value[:10])
    if isinstance(value, datetime):
        value = value.astimezone(ZoneInfo(zone)).date()
    return Markup(f'<time datetime="{value.isoformat()}">{_in_words(value)}</time>')  # noqa: S704 - made of a date alone


@pass_context
def dated(context: Context, words: object) -> object:
    """Words with their dates marked as dates, instants in the club's zone; what is marked up already stays."""
    if hasattr(words, "__html__") or words is None:
        return words
    marked = partial(_marked, zone=context.get("zone") or "UTC")
    return Markup(_DAY.sub(marked, str(escape(str(words)))))  # noqa: S704 - escaped before


@pass_context
def dated_shortly(context: Context, words: str) -> Markup:
    """The same in few letters, without the year where none but this winter’s can be meant: `14 Jan`."""
    marked = partial(_marked_shortly, today=context["today"])
    return Markup(_DAY.sub(marked, str(escape(words))))  # noqa: S704 - escaped before


def _marked_shortly(found: re.Match[str], today: date) -> str:
    on = date(int(found[3]), _MONTHS.index(found[2]) + 1, int(found[1]))
    year = "" if abs((on - today).days) <= SAME_WINTER_DAYS else f" {on.year}"
    return f'<time datetime="{on.isoformat()}">{on.day}\N{NO-BREAK SPACE}{found[2][:3]}{year}</time>'


def _marked(found: re.Match[str], zone: str) -> str:
    month = _MONTHS.index(found[2]) + 1
    if found[4]:
        with contextlib.suppress(ValueError):
            at = datetime(int(found[3]), month, int(found[1]), int(found[4]), int(found[5]), tzinfo=UTC)
            return str(local(at, zone))
    return f'<time datetime="{int(found[3]):04}-{month:02}-{int(found[1]):02}">{found[0]}</time>'


def _in_words(value: date) -> str:
    return f"{value.day} {_MONTHS[value.month - 1]} {value.year}"


def sentence(words: str) -> str:
    """With a capital and a full stop."""
    return words[:1].upper() + words[1:] + ("" if words.endswith((".", "?", "!")) else ".")


def stop_title(stop: Any) -> str:
    """What a stop is about, in a few words; nobody but the record knows who is right about names and rights."""
    titles = {
        "health": stop.agent or "A disease or pest",
        "name": "A name in doubt",
        "rights": "A right to the wood",
    }
    return titles[str(stop.reason)]


def boxed(name: str) -> str:
    """A box by its name, which often says `Box` itself."""
    return name if name.casefold().startswith("box") else f"Box {name}"


def local(value: datetime | None, zone: str = "UTC") -> Markup:
    """An instant in the club's zone: `14 January 2026, 09:30`."""
    if value is None:
        return Markup("—")
    at = value.astimezone(ZoneInfo(zone))
    words = f"{_in_words(at)}, {at:%H:%M}"
    return Markup(f'<time datetime="{at.isoformat(timespec="minutes")}">{words}</time>')  # noqa: S704 - made of a time alone


def for_field(value: datetime, zone: str = "UTC") -> str:
    """An instant as a date-and-time field wants it, in the club's zone."""
    return value.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M")


def plural(count: int | None, one: str, many: str = "") -> str:
    """`1 stick`, `12 sticks`; without a count, `more than 10,000 sticks`."""
    if count is None:
        return f"more than {MOST_COUNTED:,} {many or one + 's'}"
    return several(count, one, many)


def mm(value: float | None) -> str:
    return "—" if value is None else f"{value:g} mm"


def plain_word(value: object) -> str:
    """A word of a fixed list as people write it: `health_steward` -> `health steward`."""
    return str(value).replace("_", " ")


def day_of_year(value: date) -> str:
    """A day of every year: `14 January`."""
    return f"{value.day} {_MONTHS[value.month - 1]}"


def word_of(value: object, words: dict[str, str]) -> str:
    """The words for a value of a fixed list."""
    return words[str(value)]


def tree_not_seen(bundle: Any, today: date) -> str:
    """Of wood: `tree not seen in leaf since 3 May 2025`, or nothing; of wood from outside the club knows no tree."""
    words = not_seen_words(bundle.tree_seen_in_leaf_on, today) if bundle.tree_number else ""
    return f"tree {words}" if words else ""


def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=CompiledTemplates(),
    )
    environment.globals.update(
        static=static,
        plural=plural,
        tree_not_seen=tree_not_seen,
        not_seen_words=not_seen_words,
        short_words=short_words,
        limits_words=limits_words,
        one_line=one_line,
        looked_words=looked_words,
    )
    environment.filters.update(
        day=day,
        local=local,
        for_field=for_field,
        code_groups=group_code,
        plural=plural,
        mm=mm,
        word=plain_word,
        word_of=word_of,
        day_of_year=day_of_year,
        svg=Markup,
        dated=dated,
        dated_shortly=dated_shortly,
        sentence=sentence,
        boxed=boxed,
        stop_title=stop_title,
        rang_words=lambda ring, over=False: rang_words(ring.kind, ring.extreme_c, over=over),
        rang_name=lambda ring: rang_name(ring.kind, ring.extreme_c),
        shown=shown,
    )
    return environment


ENVIRONMENT = _environment()


class Frame(Answer):
    """What every page needs around its own: the club, who is signed in, today."""

    club: str
    short_name: str
    zone: str
    today: date
    backed_up_on: date | None = None


def frame(request: Request) -> Frame:
    """Read once per request; one statement."""
    known = getattr(request.state, "frame", None)
    if known is None:
        with request.app.state.database.reading() as session:
            club = member_queries.club(session)
        now = request.app.state.clock.now()
        known = Frame(
            club=club.name or "The club", short_name=club.short_name or club.name or "Scionwood", zone=club.zone,
            today=now.astimezone(ZoneInfo(club.zone)).date(),
            backed_up_on=club.last_backup_at.astimezone(ZoneInfo(club.zone)).date() if club.last_backup_at else None,
        )  # fmt: skip
        request.state.frame = known
    return known


def render(
    request: Request, template: str, *, asker: Any = None, status: int = 200, **context: Any
) -> HTMLResponse:
    """A whole page. `asker` is who is signed in, or None for a stranger."""
    around = frame(request)
    told = unquote(request.cookies.get(TOLD_COOKIE, ""))[:500]
    html = ENVIRONMENT.get_template(template).render(
        request=request, path=request.url.path, frame=around, zone=around.zone, today=around.today, asker=asker,
        rights={str(right) for right in asker.may} if asker else set(), told=told, form=context.pop("form", None),
        acting_for=acting.remembered(request, asker), act_for=partial(acting.others, request, asker),
        next_number=itertools.count(1).__next__, **context,
    )  # fmt: skip
    answer = HTMLResponse(html, status, {"Cache-Control": "private, no-store"})
    if told:
        answer.delete_cookie(TOLD_COOKIE, path="/")
    return answer


def tell(request: Request, answer: Response, words: str) -> None:
    """Words for the next page: what was just saved."""
    if words:
        answer.set_cookie(
            TOLD_COOKIE, quote(words[:300]), max_age=120, httponly=True, samesite="lax", path="/",
            secure=request.app.state.settings.secure_cookies,
        )  # fmt: skip
