"""Forms become the same schemas as the API's bodies; what cannot be used comes back filled in, with words at the field."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping
from contextlib import AbstractContextManager
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar, get_args
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import anyio.to_thread
from fastapi import Request, Response
from pydantic import BaseModel, ValidationError
from sqlmodel import Session
from starlette.datastructures import FormData, UploadFile
from starlette.responses import RedirectResponse

from service.lib.clock import day_words
from service.lib.errors import Problem, Stale, Unusable
from service.lib.request import status_of
from service.lib.temperatures import plain_number
from service.lib.write import Asking, Writer
from service.pages import acting
from service.pages.render import tell

T = TypeVar("T")
Schema = TypeVar("Schema", bound=BaseModel)


_A_TIME = "a date and time, like 14 January 2026, 09:30"


class WrongFields(Unusable):
    """Some fields of a form cannot be used; `wrong` says what is wrong with each."""

    title = "Something in the form cannot be used yet"
    todo = "What you typed is still here: mend the marked fields and send it again."

    def __init__(self, wrong: dict[str, str]) -> None:
        super().__init__("; ".join(f"{name}: {words}" for name, words in wrong.items()))
        self.wrong = wrong


LONG_AGO_DAYS = 400


class UnlikelyDay(Unusable):
    """A day so long ago that a slip of the finger is likelier. Judgement: paper of last winter is still in order."""

    title = "Is this right?"
    todo = "If that is the day, say that it is right and send it again; what you typed is still here."


class LostKey(Unusable):
    title = "This form is damaged"
    todo = "Load the page again and fill it in once more."


class LostVersion(LostKey):
    pass


def is_id(told: str) -> bool:
    try:
        return str(UUID(told)) == told.lower()
    except ValueError:
        return False


class Form:
    """What somebody typed, the key made when the form was opened, and what was wrong with it."""

    def __init__(
        self, data: FormData | None = None, *, writer: Writer | None = None, **defaults: Any
    ) -> None:
        self.data = data
        self.writer = writer
        self.defaults = defaults
        self.key = self.text("form_key") or str(uuid4())
        if not is_id(self.key):
            raise LostKey("The hidden key that keeps it from counting twice is not sound.")
        self.problem: Problem | None = None
        self.wrong: dict[str, str] = {}
        self.lifts: Mapping[str, Problem] = {}  # by field, what leads to the form that lifts a refused row

    def text(self, name: str, default: str = "") -> str:
        """What was typed in a field, trimmed; before the form is sent, its default."""
        if self.data is None:
            value = self.defaults.get(name)
            return default if value is None else str(value)
        value = self.data.get(name)
        return value.strip() if isinstance(value, str) else default

    def names(self) -> list[str]:
        """The fields that came, each once."""
        return list(self.data.keys()) if self.data is not None else []

    def all(self, name: str) -> list[str]:
        """Every value of a field that may come several times."""
        if self.data is None:
            return [str(value) for value in self.defaults.get(name, ())]
        return [
            value.strip() for value in self.data.getlist(name) if isinstance(value, str) and value.strip()
        ]

    def upload(self, name: str) -> UploadFile | None:
        value = self.data.get(name) if self.data is not None else None
        return value if isinstance(value, UploadFile) and value.filename else None

    def had_file(self, name: str) -> bool:
        """Whether a file came that this form, shown again, no longer holds: no browser fills it in by itself."""
        return self.upload(name) is not None

    def id(self, name: str) -> UUID:
        """The identity made with the form (`form_key`), or one chosen in it. Raises `WrongFields`."""
        told = self.key if name == "form_key" else self.text(name)
        if not is_id(told):
            raise WrongFields({name: _PLAIN["uuid_parsing"]})
        return UUID(told)

    def version(self) -> int:
        """The version of the thing that stood when the form was opened. Raises `LostVersion`."""
        told = self.text("version")
        if not (told.isascii() and told.isdigit()) or len(told) > 9:
            raise LostVersion("It does not say which version of the thing it was opened on.")
        return int(told)

    def opened_on(self, now: int) -> str:
        """The version for the hidden field. Refused as stale, the form goes on from what stands now: the page must show it."""
        if isinstance(self.problem, Stale):
            self.problem.todo = (
                "This page shows what stands now, and what you typed: send it again if it still holds."
            )
            return str(now)
        return self.text("version", str(now))

    def at(self, name: str, zone: str) -> datetime | None:
        """An instant typed as a date and time of the club's zone. Raises `WrongFields`."""
        told = self.text(name)
        if not told:
            return None
        try:
            typed = datetime.fromisoformat(told)
            at = typed.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
            stood = at.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
        except (ValueError, OverflowError) as error:
            raise WrongFields({name: _A_TIME}) from error
        if typed.tzinfo is not None or ":" not in told:
            raise WrongFields({name: _A_TIME})
        if stood != typed:
            raise WrongFields({name: "this hour was left out that day: the clocks were put forward"})
        return at

    def ask_of_day(self, name: str, today: date) -> None:
        """Ask once about a day more than `LONG_AGO_DAYS` ago; what is no day is told elsewhere. Raises `UnlikelyDay`."""
        try:
            day = date.fromisoformat(self.text(name))
        except ValueError:
            return
        ago = (today - day).days
        if ago > LONG_AGO_DAYS and self.text("sure") != "true":
            raise UnlikelyDay(f"{day_words(day)} is {ago:,} days ago.", field=name)

    @property
    def asks_of_day(self) -> bool:
        """Whether the page must offer to say that the day is right; said once, it stays said."""
        return isinstance(self.problem, UnlikelyDay) or (
            self.problem is not None and self.text("sure") == "true"
        )

    def into(self, schema: type[Schema], *names: str, **fixed: Any) -> Schema:
        """Build a body from the named fields (blank ones left out) and fixed values. Raises `WrongFields`."""
        numbers = _numbers_of(schema)
        told = {
            name: plain_number(text) if name in numbers else text
            for name in names
            if (text := self.text(name))
        }
        try:
            return schema.model_validate({**told, **fixed})
        except ValidationError as error:
            raise WrongFields({_field(each): _words(each) for each in error.errors()}) from error

    def reading(self) -> AbstractContextManager[Session]:
        """A look into the record that ends before anything is written."""
        assert self.writer is not None
        return self.writer.database.reading()

    async def write(self, action: Callable[..., T], member: Asking, *args: Any) -> T:
        """Run an action under this form's key: sent twice, it is done once."""
        assert self.writer is not None
        return await self.writer.write(action, member, *args, key=f"form:{self.key}")

    def write_now(self, action: Callable[..., T], member: Asking, *args: Any) -> T:
        """The same from a thread of its own."""
        assert self.writer is not None
        return self.writer.write_now(action, member, *args, key=f"form:{self.key}")


@cache
def _numbers_of(schema: type[BaseModel]) -> frozenset[str]:
    """Fields of a schema that hold a number with decimals, or none."""

    def holds(told: Any) -> bool:
        return told in (float, Decimal) or any(map(holds, get_args(told)))

    return frozenset(name for name, field in schema.model_fields.items() if holds(field.annotation))


def _field(each: Any) -> str:
    return str(next((part for part in reversed(each["loc"]) if isinstance(part, str)), "form"))


_PLAIN = {
    "missing": "this is needed",
    "string_too_short": "this is needed",
    "int_parsing": "a whole number",
    "float_parsing": "a number",
    "decimal_parsing": "a number",
    "uuid_parsing": "choose one from the list",
    "enum": "choose one of those offered",
    "date_from_datetime_parsing": "a date, like 14 February 2026",
    "datetime_from_date_parsing": "a date and time",
}


def _words(each: Any) -> str:
    limits = each.get("ctx", {})
    if each["type"] in ("greater_than_equal", "greater_than"):
        return f"{limits.get('ge', limits.get('gt'))} or more"
    if each["type"] in ("less_than_equal", "less_than"):
        return f"{limits.get('le', limits.get('lt'))} or less"
    if each["type"] == "string_too_long" or (
        each["type"] == "too_long" and isinstance(each.get("input"), str)
    ):
        return f"{limits.get('max_length')} letters at most"
    return _PLAIN.get(each["type"], str(each["msg"]).removeprefix("Value error, "))


async def read_form(request: Request) -> Form:
    """The form of a request. A body that is no form, or not UTF-8, is refused by the reader below."""
    return Form(await request.form(), writer=request.app.state.writer)


async def submitted(
    request: Request,
    form: Form,
    save: Callable[[], Awaitable[T]],
    then: Callable[[T], tuple[str, str]],
    again: Callable[[], Response],
    at: Mapping[str, str] | None = None,
) -> Response:
    """Save, then go on to where `then` says and tell its words there; or show the form again as it was typed.

    `again` renders the page with `form`, whose `problem` and `wrong` are set by now. `at` names the form's own field for a
    field of the body that goes by another name.
    """
    try:
        result = await save()
    except Problem as problem:
        form.problem = problem
        form.wrong = getattr(problem, "wrong", None) or (
            {problem.field: problem.detail} if problem.field else {}
        )
        form.lifts = getattr(problem, "lifts", {})
        form.wrong = {(at or {}).get(name, name): words for name, words in form.wrong.items()}
        # The page may read a whole file once more; others do not wait for it.
        answer = await anyio.to_thread.run_sync(again)
        answer.status_code = status_of(problem)
        return answer
    address, words = then(result)
    answer = RedirectResponse(address, status_code=303)
    tell(request, answer, " ".join(part for part in (words, _for_whom(request, answer, form)) if part))
    return answer


def _for_whom(request: Request, answer: Response, form: Form) -> str:
    """Remember for whom it was written, where the form asks, and say so."""
    asker = getattr(request.state, "asker", None)
    if asker is None or form.data is None or acting.FIELD not in form.data:
        return ""
    # A name may have been typed: whom it means was settled when it was asked who asks.
    told = str(request.state.acting_for_id) if form.text(acting.FIELD) else ""
    acting.remember(request, answer, asker, told)
    name = acting.name_of(request, told) if told and told != str(asker.party_id) else ""
    return f"Written for {name}." if name else ""
