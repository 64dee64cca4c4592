"""What bodies and answers have in common: strict bodies, clean text."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from datetime import date, datetime
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    model_validator,
)

_PLAIN = (bool, int, float)


@cache
def _plain_kinds(schema: type[BaseModel]) -> dict[str, frozenset[type]]:
    """Of each field that takes a yes or no, or a number: which of these."""
    found = {name: frozenset(_kinds_in(field.annotation)) for name, field in schema.model_fields.items()}
    return {
        name: kinds | ({int} if float in kinds else {float} if int in kinds else set())
        for name, kinds in found.items()
        if kinds
    }


def _kinds_in(annotation: Any) -> Iterator[type]:
    if annotation in _PLAIN:
        yield annotation
    elif get_origin(annotation) in (Union, UnionType, Annotated):
        for part in get_args(annotation):
            yield from _kinds_in(part)


def _late_itself_alone(schema: type[BaseModel]) -> None:
    """A start needs few of hundreds of schemas, so each is worked out when it is first used.

    Said of the schema alone: a route's field or a list that holds one would put itself off as well, and forget its settings.
    """
    schema.model_config = {**schema.model_config, "defer_build": False}


class Body(BaseModel):
    """A body that is sent to us: an unknown field is refused, so that a misspelt one is not lost silently."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True, defer_build=True)

    @classmethod
    def __pydantic_init_subclass__(cls, **_: Any) -> None:
        _late_itself_alone(cls)

    @model_validator(mode="before")
    @classmethod
    def _kinds_as_described(cls, told: Any) -> Any:
        # Else 0 would be taken for no, and true for one. Words stay welcome: a form knows nothing else.
        for name, kinds in _plain_kinds(cls).items() if isinstance(told, dict) else ():
            if type(told.get(name)) in _PLAIN and type(told[name]) not in kinds:
                raise ValueError(f"{name} is not of the kind that is asked for")
        return told


class Answer(BaseModel):
    """An answer we send."""

    model_config = ConfigDict(from_attributes=True, defer_build=True)

    @classmethod
    def __pydantic_init_subclass__(cls, **_: Any) -> None:
        _late_itself_alone(cls)


def _clean_line(text: str) -> str:
    if any(unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") for sign in text):
        raise ValueError("one line of text without control characters")
    return unicodedata.normalize("NFC", text)


def _clean_words(text: str) -> str:
    if any(unicodedata.category(sign) in ("Cc", "Cs") and sign not in "\n\t" for sign in text):
        raise ValueError("text without control characters")
    return unicodedata.normalize("NFC", text)


def _plain_newlines(text: object) -> object:
    return text.replace("\r\n", "\n").replace("\r", "\n") if isinstance(text, str) else text


Line = Annotated[str, StringConstraints(max_length=300, strip_whitespace=True), AfterValidator(_clean_line)]
Name = Annotated[
    str, StringConstraints(min_length=1, max_length=300, strip_whitespace=True), AfterValidator(_clean_line)
]
Words = Annotated[
    str,
    BeforeValidator(_plain_newlines),
    StringConstraints(max_length=2000, strip_whitespace=True),
    AfterValidator(_clean_words),
]


_NUMBER = re.compile(r"\s*[-+]?[\d._]+([eE][-+]?\d+)?\s*")


def _written_out(told: object) -> object:
    # A bare number would be taken for seconds since 1970, which nobody means.
    if isinstance(told, int | float) or (isinstance(told, str) and _NUMBER.fullmatch(told)):
        raise ValueError("a date or time written out, such as 2026-02-14 or 2026-02-14T10:00:00Z")
    return told


def _with_zone(at: datetime) -> datetime:
    if at.utcoffset() is None:
        raise ValueError(
            "a time with its zone: write Z behind a time in UTC, else how far it is from it, such as 2026-02-14T10:00:00Z or "
            "2026-02-14T11:00:00+01:00"
        )
    return at


def _year_in_reach(at: datetime) -> datetime:
    # Beyond these years neither the zone tables nor the databases agree on an instant.
    if not 1900 <= at.year <= 2200:
        raise ValueError("a time between the years 1900 and 2200")
    return at


Instant = Annotated[
    datetime, BeforeValidator(_written_out), AfterValidator(_with_zone), AfterValidator(_year_in_reach)
]
Day = Annotated[
    date,
    BeforeValidator(_written_out),
    Field(ge=date(1900, 1, 1), le=date(2200, 12, 31)),
]


class FaultyRow(Answer):
    """A row of a file that cannot be used, or that says something else than the record."""

    line: int
    what: str
