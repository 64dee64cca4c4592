"""Letters that the service writes to people by itself, and what becomes of their mail."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from uuid import UUID, uuid4


class LetterKind(StrEnum):
    WARNING = "warning"
    WEEKLY = "weekly"


class MailState(StrEnum):
    """What became of a letter's mail. The letter itself stands on a page whatever it is."""

    WAITING = "waiting"
    SENT = "sent"
    FAILED = "failed"
    OFF = "off"
    NO_ADDRESS = "no_address"
    NOT_WANTED = "not_wanted"
    NOT_NEEDED = "not_needed"


MAIL_WORDS = {
    MailState.WAITING: "its mail waits",
    MailState.SENT: "mailed",
    MailState.FAILED: "its mail failed",
    MailState.OFF: "not mailed: the club sends no mail",
    MailState.NO_ADDRESS: "not mailed: no e-mail address is known",
    MailState.NOT_WANTED: "not mailed, as they wish",
    MailState.NOT_NEEDED: "not mailed: nothing in it asks for anything",
}


@dataclass(frozen=True)
class NewLetter:
    """A letter to be written: to whom, of what, and whether anything in it asks for something."""

    party_id: UUID
    kind: LetterKind
    subject: str
    text: str
    about_id: UUID | None = None
    path: str = ""
    quiet: bool = False
    id: UUID = field(default_factory=uuid4)


def mail_state(*, email: str, wanted: bool, quiet: bool) -> MailState:
    """Whether a letter goes out by mail too: not to who has no address or wants none, and not where it asks for nothing."""
    if not email:
        return MailState.NO_ADDRESS
    if not wanted:
        return MailState.NOT_WANTED
    return MailState.NOT_NEEDED if quiet else MailState.WAITING
