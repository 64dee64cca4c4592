"""Passwords, sessions, tokens and invitations."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from uuid import UUID

from service.lib.clock import minute_words
from service.lib.errors import NotAllowed, NotSignedIn, Refused, Unusable
from service.members.rules.people import May, Role, fold_person

SIGN_IN_DAYS = 30
FIRST_INVITATION_DAYS = 7
SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200


class WeakPassword(Unusable):
    title = "This password is too easy to guess"
    todo = f"Take at least {SHORTEST_PASSWORD} letters, for instance four words that do not belong together."


def can_be_password(password: str, names: Iterable[str]) -> bool:
    """Long enough, more than one sign, and none of the person's own names."""
    folded = fold_person(password)
    long_enough = SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD
    return (
        long_enough
        and len(set(folded.replace(" ", ""))) > 1
        and all(folded != fold_person(name) for name in names)
    )


def check_password(password: str, names: Iterable[str]) -> None:
    if not can_be_password(password, names):
        raise WeakPassword(
            f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} signs and is neither your name nor one sign repeated.",
            field="password",
        )


# -- signing in, sessions, tokens --------------------------------------------------------------------------------


class EndsInThePast(Unusable):
    title = "This end has passed already"
    todo = "Choose a later one, or none."


class WrongSignIn(NotSignedIn):
    title = "The name or the password is not right"
    todo = "Try again. If you forgot your password, ask a steward or an administrator for a new invitation."


class WrongPassword(Unusable):
    title = "Your present password is another one"
    todo = "Type the password you signed in with."


class SignInEnded(NotSignedIn):
    title = "Your sign-in has ended"


class TokenNotGood(NotSignedIn):
    title = "This API token cannot be used"
    todo = "Make a new token on your account page."


class WrongOrigin(NotAllowed):
    title = "This request came from another website"
    todo = "Open the page on this service itself and do it there."


class FormNotOurs(NotAllowed):
    title = "This form does not belong to your sign-in"
    todo = "Load the page again and send the form once more."


class NeedsBrowser(NotAllowed):
    title = "A token may not do this"
    todo = "Sign in with your name and password and do it there."


class TokenBoundElsewhere(NotAllowed):
    title = "This token is bound to something else"
    todo = "Send it with the token that was made for this, or make one for it on your account page."


class BoundTo(StrEnum):
    """What a token of a program may be bound to: it writes for that alone."""

    LOGGER = "logger"
    STORE = "store"
    SITE = "site"


_ID = r"([0-9a-fA-F-]{32,36})"
# What a bound token may write at all; which store a logger hangs in is looked at where its readings are taken.
_BOUND_PATHS: Mapping[BoundTo, tuple[re.Pattern[str], ...]] = {
    BoundTo.LOGGER: (re.compile(rf"PUT /api/loggers/{_ID}/readings"),),
    BoundTo.SITE: (re.compile(rf"POST /api/sites/{_ID}/air"),),
    BoundTo.STORE: (re.compile(r"PUT /api/loggers/[^/]+/readings"), re.compile(r"POST /api/dial-readings")),
}


@dataclass(frozen=True)
class Bound:
    """The one logger, store or site that a token writes for."""

    kind: BoundTo
    id: UUID

    def check_writes(self, method: str, path: str) -> None:
        """Raises `TokenBoundElsewhere` for a write that is not of what the token is bound to."""
        found = next(
            (one for each in _BOUND_PATHS[self.kind] if (one := each.fullmatch(f"{method} {path}"))), None
        )
        if found is None or (found.groups() and _as_id(found[1]) != self.id):
            raise TokenBoundElsewhere(
                f"It writes for one {self.kind.value} alone, and this is not that.", bound_to=self.kind.value
            )


class BondDoesNotFit(Unusable):
    title = "This token could not do what it says"
    todo = "Bind it with the one right it sends by, and at most `read` beside it; or bind it to nothing."


class NothingToBindTo(Unusable):
    title = "There is nothing of this id to bind a token to"
    todo = "Take the id from the list of loggers, stores or sites, and send it again."


# What each bond sends by; beside it a bound token may read.
BOND_NEEDS: Mapping[BoundTo, May] = {
    BoundTo.LOGGER: May.READINGS,
    BoundTo.STORE: May.READINGS,
    BoundTo.SITE: May.TREES,
}


def unfit_scopes(kind: BoundTo, scopes: Iterable[May]) -> tuple[set[May], set[May]]:
    """The rights that a token bound like this lacks, and those that it could not use."""
    needed, told = {BOND_NEEDS[kind]}, set(scopes)
    return needed - told, told - needed - {May.READ}


def check_bond_fits(kind: BoundTo | None, scopes: Iterable[May]) -> None:
    """Raises `BondDoesNotFit` for a token that could send nothing, or has rights that its bond takes away again."""
    if kind is None:
        return
    lacks, idle = unfit_scopes(kind, scopes)
    if lacks:
        raise BondDoesNotFit(
            f"Bound to one {kind.value}, it sends by the right {', '.join(lacks)}, which it is not given.",
            field="scopes",
        )
    if idle:
        raise BondDoesNotFit(
            f"Bound to one {kind.value}, it could not use: {', '.join(sorted(idle))}.", field="scopes"
        )


def _as_id(told: str) -> UUID | None:
    try:
        return UUID(told)
    except ValueError:
        return None


def bound_store(member: object) -> UUID | None:
    """The store that somebody's token writes for alone; None: any."""
    bound: Bound | None = getattr(member, "bound", None)
    return bound.id if bound is not None and bound.kind is BoundTo.STORE else None


def check_store_of(member: object, store_ids: Collection[UUID | None]) -> None:
    """Whoever writes for one store alone writes for no other. Raises `TokenBoundElsewhere`."""
    if (store_id := bound_store(member)) is not None and store_id not in store_ids:
        raise TokenBoundElsewhere("It writes for one store alone, and this is of another.", bound_to="store")


class TokenLacksScope(NotAllowed):
    title = "This token may not do this"
    todo = "Make a token that may, under your account, or sign in and do it there."


class SignInNameTaken(Refused):
    title = "Somebody signs in with this name already"
    todo = "Choose another name to sign in with."


class ScopeNotYours(NotAllowed):
    title = "A token cannot do more than you"
    todo = "Choose only what you may do yourself."


def can_hold_scopes(rights: frozenset[May], scopes: Iterable[May]) -> bool:
    return set(scopes) <= rights


def check_scopes(rights: frozenset[May], scopes: Iterable[May]) -> None:
    if not can_hold_scopes(rights, scopes):
        raise ScopeNotYours(
            f"You may not yourself: {', '.join(sorted(set(scopes) - rights))}.", field="scopes"
        )


def digest_of(secret: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(secret.encode()).hexdigest()


# The first word found names it; browsers claim to be each other, so the order counts.
_BROWSERS = {"Edg": "Edge", "OPR": "Opera", "SamsungBrowser": "Samsung Internet", "Firefox": "Firefox", "FxiOS": "Firefox",
             "CriOS": "Chrome", "Chrome": "Chrome", "Safari": "Safari"}  # fmt: skip
_SYSTEMS = {"Android": "Android", "iPhone": "an iPhone", "iPad": "an iPad", "CrOS": "ChromeOS", "Windows": "Windows",
            "Mac OS": "a Mac", "Linux": "Linux"}  # fmt: skip


def name_device(told: str) -> str:
    """What a browser calls itself, in words a person knows it by: `Firefox on Android`."""
    browser = next((words for sign, words in _BROWSERS.items() if f"{sign}/" in told), "")
    system = next((words for sign, words in _SYSTEMS.items() if sign in told), "")
    if browser and system:
        return f"{browser} on {system}"
    return browser or system or "".join(sign for sign in told if sign.isprintable())[:60]


def sign_in_until(now: datetime) -> datetime:
    """When a sign-in made now ends."""
    return now + timedelta(days=SIGN_IN_DAYS)


# -- invitations -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class InvitationFacts:
    id: UUID
    party_id: UUID | None
    party_name: str
    roles: tuple[Role, ...]
    expires_at: datetime
    used_at: datetime | None
    revoked_at: datetime | None
    account_id: UUID | None  # of the party, where it has one: then the invitation sets a new password
    sign_in_name: str
    party_forgotten: bool = False
    is_first: bool = False  # it makes the first administrator


class InvitationGone(Refused):
    title = "This invitation cannot be used any more"
    todo = "Ask whoever gave it to you for a new one."


class NotFirst(Refused):
    title = "The first administrator is there already"
    todo = "Ask an administrator of the club for an invitation."


class InvitationState(StrEnum):
    OPEN = "open"
    USED = "used"
    REVOKED = "revoked"
    EXPIRED = "expired"


def state_of_invitation(
    used_at: datetime | None, revoked_at: datetime | None, expires_at: datetime, now: datetime
) -> InvitationState:
    if used_at is not None:
        return InvitationState.USED
    if revoked_at is not None:
        return InvitationState.REVOKED
    return InvitationState.EXPIRED if now >= expires_at else InvitationState.OPEN


def can_accept(invitation: InvitationFacts, now: datetime) -> bool:
    state = state_of_invitation(invitation.used_at, invitation.revoked_at, invitation.expires_at, now)
    return state is InvitationState.OPEN and not invitation.party_forgotten


def check_can_accept(invitation: InvitationFacts, now: datetime) -> None:
    if not can_accept(invitation, now):
        state = state_of_invitation(invitation.used_at, invitation.revoked_at, invitation.expires_at, now)
        words = {
            InvitationState.USED: "It was used already, and works once only.",
            InvitationState.REVOKED: "It was taken back.",
            InvitationState.EXPIRED: f"It was good until {minute_words(invitation.expires_at)}.",
            InvitationState.OPEN: "The person it was for was forgotten.",
        }
        raise InvitationGone(words[state], state=state.value)
