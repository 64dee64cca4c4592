"""Bodies and answers about people: parties, areas, sign-in, invitations, tokens, the club."""

from __future__ import annotations

import unicodedata
from datetime import date, datetime
from typing import Annotated
from uuid import UUID
from zoneinfo import available_timezones

from pydantic import AfterValidator, ConfigDict, Field, StringConstraints, field_validator, model_validator

from service.lib.schemas import Answer, Body, Day, Instant, Line, Name, Words
from service.members.rules import InvitationState, LetterKind, MailState, May, PartyKind, Role
from service.members.rules.access import BoundTo

Contact = Annotated[Words, StringConstraints(max_length=500)]
# Plain letters, as SMTP has them without extensions (RFC 5321); a sign that could end a header is never among them.
Email = Annotated[
    Line,
    StringConstraints(max_length=254, pattern=r"^([A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@([A-Za-z0-9-]+\.)+[A-Za-z0-9-]{2,63})?$"),
]  # fmt: skip
SignInName = Annotated[Line, StringConstraints(min_length=1, max_length=60)]
# Phones and keyboards write the same letter in more than one way; blanks at the ends are part of a password.
Password = Annotated[
    str,
    StringConstraints(strip_whitespace=False, min_length=1, max_length=400),
    AfterValidator(lambda text: unicodedata.normalize("NFKC", text)),
]
Secret = Annotated[Line, StringConstraints(min_length=1, max_length=200)]


MAY_GO = frozenset(
    {"area_id", "checked_on", "exchange_on", "grafting_on"}
)  # null takes what stands out again


def _some(fields: Body) -> None:
    empty = [name for name in fields.model_fields_set if getattr(fields, name) is None and name not in MAY_GO]
    if empty:
        raise ValueError(
            f"null is no value for: {', '.join(sorted(empty))}; leave it out to keep what stands"
        )


class Change(Body):
    """An edit: what is left out stays as it is."""

    @model_validator(mode="after")
    def _no_null(self) -> Change:
        _some(self)
        return self

    def told(self) -> dict[str, object]:
        """What was sent, by field."""
        return {name: getattr(self, name) for name in self.model_fields_set}


# -- areas -------------------------------------------------------------------------------------------------------


class AreaCreate(Body):
    id: UUID | None = None
    name: Name
    authority: Line = ""
    note: Words = ""
    checked_on: Day | None = None


class AreaUpdate(Change):
    name: Name | None = None
    authority: Line | None = None
    note: Words | None = None
    checked_on: Day | None = None


class AreaRead(Answer):
    id: UUID
    name: str
    authority: str
    note: str
    checked_on: date | None
    version: int


class AreaPermitCreate(Body):
    """The authority’s answer on wood from one area to another; `genus` empty means every kind."""

    id: UUID | None = None
    from_area_id: UUID
    to_area_id: UUID
    reference: Name
    allows: bool
    genus: Annotated[Line, StringConstraints(max_length=100)] = ""
    answered_on: Day
    valid_until: Day | None = None

    @model_validator(mode="after")
    def _two_areas_in_time(self) -> AreaPermitCreate:
        if self.from_area_id == self.to_area_id:
            raise ValueError("an answer is about two different areas")
        if self.valid_until is not None and self.valid_until < self.answered_on:
            raise ValueError("an answer cannot end before it was given")
        return self


class AreaPermitRead(Answer):
    id: UUID
    from_area_id: UUID
    to_area_id: UUID
    from_area_name: str
    to_area_name: str
    reference: str
    allows: bool
    genus: str
    answered_on: date
    valid_until: date | None
    recorded_at: datetime


# -- parties -----------------------------------------------------------------------------------------------------


class PartyCreate(Body):
    """Somebody who can hold wood. Where the record knows one area only, it is theirs unless another is told."""

    id: UUID | None = None
    kind: PartyKind = PartyKind.MEMBER
    name: Name
    contact: Contact = ""
    email: Email = Field(
        default="", description="for the club's letters; seen by themselves and by who looks after people"
    )
    area_id: UUID | None = None
    keep_contact_for_recall: bool = False
    note: Words = ""


class PartyUpdate(Change):
    kind: PartyKind | None = None
    name: Name | None = None
    contact: Contact | None = None
    email: Email | None = None
    mail_wanted: bool | None = Field(
        default=None, description="whether the club's letters also go to that address"
    )
    area_id: UUID | None = None
    keep_contact_for_recall: bool | None = None
    note: Words | None = None


class PartyRead(Answer):
    id: UUID
    kind: PartyKind
    name: str
    contact: str
    email: str
    mail_wanted: bool
    area_id: UUID | None
    area_name: str
    keep_contact_for_recall: bool
    note: str
    roles: list[Role]
    sign_in_name: str = Field(description="Empty where the party has no account.")
    forgotten: bool
    created_at: datetime
    version: int


class PartyName(Answer):
    """Just enough to choose a receiver."""

    id: UUID
    kind: PartyKind
    name: str
    area_id: UUID | None


class RolesUpdate(Body):
    roles: list[Role] = Field(max_length=len(Role))


class RolesRead(Answer):
    party_id: UUID
    roles: list[Role]
    may: list[May]
    version: int = Field(description="The party's version, for If-Match.")


class RoleSummary(Answer):
    role: Role
    may: list[May]


# -- signing in --------------------------------------------------------------------------------------------------


class SessionCreate(Body):
    name: SignInName
    password: Password


class SessionRead(Answer):
    """Who is asking, and what they may do."""

    party_id: UUID
    name: str
    roles: list[Role]
    may: list[May]
    acting_for_id: UUID
    via: str
    csrf_token: str = Field(description="To be sent as X-CSRF-Token with changes made by cookie.")


class SessionSummary(Answer):
    id: UUID
    device: str
    created_at: datetime
    expires_at: datetime
    is_this: bool


class SignedInNow(Answer):
    """A sign-in just made, with its secret: for the cookie alone."""

    id: UUID
    account_id: UUID
    party_id: UUID
    token: str
    csrf_token: str
    expires_at: datetime


class SignedInRead(Answer):
    """A sign-in just made; the session itself is in the cookie."""

    id: UUID
    party_id: UUID
    csrf_token: str = Field(description="To be sent as X-CSRF-Token with changes made by cookie.")
    expires_at: datetime


class PasswordUpdate(Body):
    old_password: Password
    password: Password


class TokenCreate(Body):
    id: UUID | None = None
    name: Annotated[Name, StringConstraints(max_length=200)]
    scopes: list[May] = Field(min_length=1, max_length=len(May))
    expires_at: Instant | None = None
    bound_kind: BoundTo | None = Field(
        default=None,
        description="it writes for one logger, store or site alone; what it reads is as its scopes say",
    )
    bound_id: UUID | None = Field(default=None, description="which one; told with `bound_kind`")

    @model_validator(mode="after")
    def _whole_bond(self) -> TokenCreate:
        if (self.bound_kind is None) != (self.bound_id is None):
            raise ValueError(
                "say what it is bound to and which one: both of bound_kind and bound_id, or neither"
            )
        return self


class TokenRead(Answer):
    id: UUID
    name: str
    scopes: list[May]
    created_at: datetime
    expires_at: datetime | None
    last_used_on: date | None
    revoked_at: datetime | None
    bound_kind: BoundTo | None = None
    bound_id: UUID | None = None


class TokenMade(TokenRead):
    token: str = Field(description="Shown this once; only its digest is kept.")


class CalendarAddressMade(Answer):
    """The address under which somebody's own calendar reads their dates."""

    path: str = Field(description="Shown this once; only its digest is kept.")
    made_at: datetime


# -- invitations -------------------------------------------------------------------------------------------------


class InvitationCreate(Body):
    """An invitation for somebody new, or for a party that stands; where that one signs in already, it sets a new password."""

    id: UUID | None = None
    party_id: UUID | None = None
    roles: list[Role] = Field(default=[Role.MEMBER], max_length=len(Role))
    note: Line = ""
    valid_days: int = Field(default=14, ge=1, le=60)


class InvitationRead(Answer):
    id: UUID
    party_id: UUID | None
    party_name: str
    roles: list[Role]
    note: str
    created_at: datetime
    expires_at: datetime
    state: InvitationState


class InvitationMade(InvitationRead):
    token: str = Field(description="Shown this once; only its digest is kept.")
    path: str = Field(description="Where the invitation is accepted, on this service.")


class InvitationAccept(Body):
    """Accepting: a name where the invitation names nobody yet, a name to sign in with, a password."""

    token: Secret
    name: Line = ""
    contact: Contact = ""
    keep_contact_for_recall: bool = False
    sign_in_name: Annotated[Line, StringConstraints(max_length=60)] = ""
    password: Password


# -- the club ----------------------------------------------------------------------------------------------------


def _known_zone(zone: str) -> str:
    if zone not in available_timezones():
        raise ValueError("a zone of the IANA time zone database, such as Europe/Dublin")
    return zone


class ClubUpdate(Change):
    name: Annotated[Name, StringConstraints(max_length=200)] | None = None
    short_name: Annotated[Name, StringConstraints(max_length=24)] | None = None
    zone: Annotated[Line, StringConstraints(max_length=60)] | None = None
    recall_look_back_winters: int | None = Field(default=None, ge=0, le=20)
    weekly_on: int | None = Field(
        default=None, ge=0, le=6, description="day of the weekly letter to hosts: 0 is Monday, 6 Sunday"
    )
    weekly_hour: int | None = Field(default=None, ge=0, le=23, description="its hour, in the club's zone")
    exchange_on: date | None = Field(default=None, description="the next exchange; null: none is fixed")
    grafting_on: date | None = Field(default=None, description="the next grafting day; null: none is fixed")

    @field_validator("zone")
    @classmethod
    def _zone(cls, zone: str | None) -> str | None:
        return None if zone is None else _known_zone(zone)


class ClubRead(Answer):
    model_config = ConfigDict(from_attributes=True, frozen=True)

    name: str = ""
    short_name: str = ""
    zone: str = "UTC"
    recall_look_back_winters: int = 3
    weekly_on: int = 6
    weekly_hour: int = 18
    exchange_on: date | None = None
    grafting_on: date | None = None
    last_backup_at: datetime | None = None
    version: int = 1


# -- letters -----------------------------------------------------------------------------------------------------


class LetterRead(Answer):
    """What the service told somebody by itself, and what became of its mail."""

    id: UUID
    party_id: UUID
    party_name: str
    kind: LetterKind
    subject: str
    text: str
    path: str = Field(description="the page where it goes on")
    about_id: UUID | None
    quiet: bool
    made_at: datetime
    mail: MailState
    mail_error: str
    mailed_at: datetime | None
