"""Areas, parties, accounts, sessions, tokens, invitations, and the club itself."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word


class Area(SQLModel, table=True):
    """A plant-health area; wood crossing its boundary needs the authority’s answer first."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    name: str = Field(max_length=300, unique=True)
    authority: str = Field(default="", max_length=300)
    note: str = Field(default="", max_length=2000)
    checked_on: date | None = None
    version: int = 1


class AreaPermit(SQLModel, table=True):
    """The authority's recorded answer on moving wood from one area to another."""

    __tablename__ = "area_permit"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    from_area_id: UUID = refers_to("area.id", index=True)
    to_area_id: UUID = refers_to("area.id")
    reference: str = Field(max_length=300)
    allows: bool = True
    genus: str = Field(default="", max_length=100)
    answered_on: date
    valid_until: date | None = None
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")


class Party(SQLModel, table=True):
    """Whoever can hold wood: a member, a guest, another club."""

    __table_args__ = (CheckConstraint("kind in ('member', 'guest', 'club')", name="kind"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)
    kind: str = word()
    name: str = Field(max_length=300)
    name_folded: str = Field(default="", max_length=400, index=True)
    contact: str = Field(default="", max_length=500)
    email: str = Field(default="", max_length=254)
    mail_wanted: bool = True
    area_id: UUID | None = refers_to("area.id", default=None, nullable=True)
    keep_contact_for_recall: bool = False
    note: str = Field(default="", max_length=2000)
    forgotten_at: datetime | None = instant(default=None)
    created_at: datetime = instant()
    version: int = 1


class RecallContact(SQLModel, table=True):
    """A sealed contact of a forgotten party, opened by a recall alone, gone when its look-back ends."""

    __tablename__ = "recall_contact"
    party_id: UUID = refers_to("party.id", primary_key=True)
    contact: str = Field(max_length=500)
    until: date


class PartyRole(SQLModel, table=True):
    """A role somebody has."""

    __tablename__ = "party_role"
    party_id: UUID = refers_to("party.id", primary_key=True)
    role: str = word(primary_key=True)
    given_at: datetime = instant()


class Account(SQLModel, table=True):
    """A way to sign in, one per party."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    party_id: UUID = refers_to("party.id", unique=True)
    sign_in_name: str = Field(max_length=200)
    sign_in_folded: str = Field(max_length=300, unique=True)
    password_hash: str = Field(max_length=300)
    created_at: datetime = instant()
    disabled_at: datetime | None = instant(default=None)
    version: int = 1


class SignIn(SQLModel, table=True):
    """One signed-in browser; only the digest of its token is kept."""

    __tablename__ = "sign_in"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    account_id: UUID = refers_to("account.id", index=True)
    token_sha256: str = Field(max_length=64, unique=True)
    csrf_token: str = Field(max_length=64)
    device: str = Field(default="", max_length=300)
    created_at: datetime = instant()
    expires_at: datetime = instant()
    revoked_at: datetime | None = instant(default=None)


class ApiToken(SQLModel, table=True):
    """A token for a program, with narrow scopes; only its digest is kept."""

    __tablename__ = "api_token"
    id: UUID = Field(default_factory=new_id, primary_key=True)
    account_id: UUID = refers_to("account.id", index=True)
    name: str = Field(max_length=200)
    token_sha256: str = Field(max_length=64, unique=True)
    scopes: str = Field(max_length=500)
    bound_kind: str | None = word(default=None, nullable=True)  # logger, store, site; empty: bound to none
    bound_id: UUID | None = None  # of a later stage, so no key of the database points there
    created_at: datetime = instant()
    expires_at: datetime | None = instant(default=None)
    last_used_on: date | None = None
    revoked_at: datetime | None = instant(default=None)


class CalendarAddress(SQLModel, table=True):
    """The address under which somebody's own calendar reads their dates, at most one each; only its digest is kept."""

    __tablename__ = "calendar_address"
    account_id: UUID = refers_to("account.id", primary_key=True)
    secret_sha256: str = Field(max_length=64, unique=True)
    made_at: datetime = instant()


class Invitation(SQLModel, table=True):
    """A link that makes one account, for a party that stands or a new one; used once."""

    id: UUID = Field(default_factory=new_id, primary_key=True)
    token_sha256: str = Field(max_length=64, unique=True)
    party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    roles: str = Field(max_length=200)
    note: str = Field(default="", max_length=300)
    made_by_party_id: UUID | None = refers_to("party.id", default=None, nullable=True)
    created_at: datetime = instant()
    expires_at: datetime = instant()
    used_at: datetime | None = instant(default=None)
    revoked_at: datetime | None = instant(default=None)


class Letter(SQLModel, table=True):
    """What the service told one person by itself, on a page and, where they want it, by e-mail."""

    __table_args__ = (Index("ix_letter_party_made", "party_id", "made_at"),)
    id: UUID = Field(default_factory=new_id, primary_key=True)  # of its mail, too
    party_id: UUID = refers_to("party.id")
    kind: str = word()  # warning, weekly
    subject: str = Field(max_length=200)
    text: str = Field(max_length=20_000)
    path: str = Field(default="", max_length=200)  # of the page where it goes on
    about_id: UUID | None = Field(
        default=None, index=True
    )  # of what it tells; of a later stage, so it is no key
    quiet: bool = False  # nothing in it asks for anything
    made_at: datetime = instant()
    mail: str = word()  # waiting, sent, failed, off, no_address, not_wanted, not_needed
    mail_error: str = Field(default="", max_length=300)
    mailed_at: datetime | None = instant(default=None)


class Club(SQLModel, table=True):
    """The club whose record this is: exactly one row."""

    __table_args__ = (CheckConstraint("id = 1", name="one"),)
    id: int = Field(default=1, primary_key=True)
    name: str = Field(default="", max_length=200)
    short_name: str = Field(default="", max_length=24)
    zone: str = Field(default="UTC", max_length=60)
    recall_look_back_winters: int = 3
    weekly_on: int = 6  # Monday is 0
    weekly_hour: int = 18
    exchange_on: date | None = None  # the next, which wood should reach
    grafting_on: date | None = None
    next_tree_number: int = 1
    next_plant_number: int = 1
    next_graft_number: int = 1
    next_collection_number: int = 1
    last_backup_at: datetime | None = instant(default=None)
    version: int = 1
