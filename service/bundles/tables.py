"""Bundles with their counters, the append-only stick ledger, and stops on bundles."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index
from sqlmodel import Field, SQLModel

from service.lib.database import instant, new_id, refers_to, word

ON_HAND = "came_in - passed_on - grafted - discarded"


class Bundle(SQLModel, table=True):
    """Sticks of one collection kept together under one tag.

    The counters are the ledger's sums, kept so that one guarded statement can refuse what is not there.
    """

    __table_args__ = (
        CheckConstraint(
            "passed_on >= 0 and grafted >= 0 and discarded >= 0 and promised >= 0 and claimed >= 0",
            name="counters",
        ),
        CheckConstraint(f"{ON_HAND} >= 0", name="on_hand"),
        CheckConstraint(f"{ON_HAND} - promised - claimed >= 0", name="free"),
        CheckConstraint("open_stops >= 0", name="open_stops"),
        # Whose wood, the newest first: of the club's own there may be a million.
        Index("ix_bundle_holder_made", "holder_id", "made_at", "id"),
    )
    id: UUID = Field(default_factory=new_id, primary_key=True)
    code: str | None = Field(
        default=None, max_length=8, unique=True
    )  # none for a stick flag: it copies its parent's
    collection_id: UUID = refers_to("collection.id", index=True)
    parent_id: UUID | None = refers_to("bundle.id", default=None, nullable=True, index=True)
    holder_id: UUID | None = refers_to("party.id", default=None, nullable=True)  # none: the club
    is_flag: bool = False
    came_in: int = 0
    passed_on: int = 0
    grafted: int = 0
    discarded: int = 0
    promised: int = 0
    claimed: int = 0
    open_stops: int = 0
    sticks_at_start: int = 0  # as printed on the tag
    length_mm: int | None = None
    diameter_mm: float | None = None
    unfinished: bool = False
    made_at: datetime = instant(index=True)  # the person's time
    note: str = Field(default="", max_length=2000)
    version: int = 1


class StickMove(SQLModel, table=True):
    """One line of the ledger. Rows are only ever added."""

    __tablename__ = "stick_move"
    __table_args__ = (Index("ix_stick_move_bundle_seq", "bundle_id", "seq"),)
    seq: int | None = Field(default=None, primary_key=True)  # recorded order
    id: UUID = Field(default_factory=new_id, unique=True)
    bundle_id: UUID = refers_to("bundle.id")
    kind: str = word()
    sticks: int
    came_in: int = 0  # what this line added to each counter
    passed_on: int = 0
    grafted: int = 0
    discarded: int = 0
    promised: int = 0
    claimed: int = 0
    other_bundle_id: UUID | None = refers_to("bundle.id", default=None, nullable=True, index=True)
    party_id: UUID | None = refers_to("party.id", default=None, nullable=True, index=True)  # to or from whom
    form: str = word(default="")  # of a hand-over: bundle, flag, table
    done_at: datetime = instant(index=True)
    recorded_at: datetime = instant()
    by_party_id: UUID = refers_to("party.id")
    for_party_id: UUID = refers_to("party.id")
    reason: str = Field(default="", max_length=1000)


class BundleStop(SQLModel, table=True):
    """A bundle bound by a stop."""

    __tablename__ = "bundle_stop"
    stop_id: UUID = refers_to("stop.id", primary_key=True)
    bundle_id: UUID = refers_to("bundle.id", primary_key=True, index=True)
    why: str = word(default="origin")  # origin, same_tree, same_round, box_mate, earlier_winter, proposed
    placed_at: datetime = instant()
    lifted_at: datetime | None = instant(default=None)
