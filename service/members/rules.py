"""Who may do what: roles and rights, and the checks on people, passwords, invitations and areas."""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Protocol
from uuid import UUID

from service.lib.errors import NotAllowed, NotSignedIn, Refused, Unusable


class PartyKind(StrEnum):
    MEMBER = "member"
    GUEST = "guest"
    CLUB = "club"


class Role(StrEnum):
    MEMBER = "member"
    COLLECTOR = "collector"
    HOST = "host"
    STEWARD = "steward"
    HEALTH_STEWARD = "health_steward"
    ADMINISTRATOR = "administrator"


class May(StrEnum):
    """One thing somebody may do; also the scope of an API token."""

    READ = "read"
    CATALOGUE = "catalogue"
    TREES = "trees"
    TREE_CHECKS = "tree-checks"
    COLLECT = "collect"
    STICKS = "sticks"
    HAND_OVER = "hand-over"
    STORE = "store"
    BUNDLE_CHECKS = "bundle-checks"
    GRAFT = "graft"
    LABELS = "labels"
    STOP = "stop"
    RELEASE = "release"
    RECALL = "recall"
    PEOPLE = "people"
    ACT_FOR = "act-for"
    ADMINISTER = "administer"


_MEMBER = {May.READ, May.GRAFT}
_VOLUNTEER = _MEMBER | {May.TREE_CHECKS, May.BUNDLE_CHECKS, May.STICKS, May.HAND_OVER, May.STORE, May.LABELS, May.STOP, May.ACT_FOR}

ROLE_MAY: Mapping[Role, frozenset[May]] = {
    Role.MEMBER: frozenset(_MEMBER),
    Role.COLLECTOR: frozenset(_VOLUNTEER | {May.COLLECT, May.TREES}),
    Role.HOST: frozenset(_VOLUNTEER),
    Role.STEWARD: frozenset(_VOLUNTEER | {May.COLLECT, May.TREES, May.CATALOGUE, May.PEOPLE}),
    Role.HEALTH_STEWARD: frozenset(_VOLUNTEER | {May.TREES, May.RELEASE, May.RECALL}),
    Role.ADMINISTRATOR: frozenset(May),
}

SIGN_IN_DAYS = 30
FIRST_INVITATION_DAYS = 7
SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200
FORGOTTEN = "forgotten"


def may_of(roles: Iterable[Role]) -> frozenset[May]:
    """All that these roles together may do."""
    return frozenset[May]().union(*(ROLE_MAY[role] for role in roles))


def in_order(roles: Iterable[Role]) -> tuple[Role, ...]:
    """Roles without repeats, in the order in which the club lists them."""
    given = set(roles)
    return tuple(role for role in Role if role in given)


class Member(Protocol):
    """Whoever asks, as far as actions care."""

    @property
    def account_id(self) -> UUID: ...
    @property
    def party_id(self) -> UUID: ...
    @property
    def acting_for_id(self) -> UUID: ...
    @property
    def may(self) -> frozenset[May]: ...


# -- names -----------------------------------------------------------------------------------------------------

# Letters that Unicode does not take apart into a plain letter and an accent.
_LETTERS = str.maketrans({"æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i", "ħ": "h", "ŧ": "t", "ŋ": "n"})
LONGEST_FOLDED = 400


def fold_person(name: str) -> str:
    """A person's name as it is searched: lower case, without accents or invisible signs, one blank between words."""
    taken_apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", name).casefold())
    plain = "".join(sign for sign in taken_apart if unicodedata.category(sign) not in ("Mn", "Cf"))
    return " ".join(plain.translate(_LETTERS).split())[:LONGEST_FOLDED]


# -- facts -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class AreaFacts:
    id: UUID
    name: str
    authority: str = ""
    checked_on: date | None = None


@dataclass(frozen=True)
class AreaPermitFacts:
    """An authority's answer; `genus` empty means every kind."""

    id: UUID
    from_area_id: UUID
    to_area_id: UUID
    reference: str
    allows: bool
    genus: str
    answered_on: date
    valid_until: date | None


@dataclass(frozen=True)
class PartyFacts:
    id: UUID
    kind: PartyKind
    name: str
    area_id: UUID | None
    forgotten: bool


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


# -- crossing areas ----------------------------------------------------------------------------------------------


class CrossesArea(Refused):
    title = "Wood would cross a plant-health boundary"
    todo = (
        "Ask the plant-health authority; once a health steward has recorded its answer under 'Areas', this can be done."
        " Until then leave the wood where it is."
    )


class AreaNotKnown(CrossesArea):
    title = "It is not known which plant-health area this goes to"
    todo = "Choose the receiver's plant-health area on their page, then do this again."


def decide_permit(answers: Iterable[AreaPermitFacts]) -> AreaPermitFacts | None:
    """The answer that counts: the newest for the very genus, unless a newer one for every kind says no."""
    newest_first = sorted(answers, key=lambda answer: (answer.answered_on, not answer.allows), reverse=True)
    own = next((answer for answer in newest_first if answer.genus), None)
    general = next((answer for answer in newest_first if not answer.genus), None)
    if own is None or general is None:
        return own or general
    return general if general.answered_on >= own.answered_on and not general.allows else own


def can_cross(from_area: AreaFacts | None, to_area: AreaFacts | None, permit: AreaPermitFacts | None) -> bool:
    """Whether wood may go from one area to the other; an area that is not known counts as another."""
    same = (from_area and from_area.id) == (to_area and to_area.id)
    return same or (from_area is not None and to_area is not None and permit is not None and permit.allows)


def check_may_cross(from_area: AreaFacts | None, to_area: AreaFacts | None, permit: AreaPermitFacts | None) -> None:
    """Refuse wood that would leave its area without the authority's yes; says which step lifts it."""
    if can_cross(from_area, to_area, permit):
        return
    if from_area is None or to_area is None:
        known = from_area or to_area
        raise AreaNotKnown(f"One end lies in {known.name if known else 'no known area'}; the area of the other end is not recorded.")
    facts = {"from_area": from_area.name, "to_area": to_area.name}
    if permit is None:
        raise CrossesArea(f"No answer of the authority is recorded for wood from {from_area.name} to {to_area.name}.", **facts)
    raise CrossesArea(
        f"The authority's answer {permit.reference} of {permit.answered_on} does not allow wood from {from_area.name} to {to_area.name}.",
        todo="Leave the wood where it is. Only a new answer of the plant-health authority, recorded under 'Areas', changes this.",
        reference=permit.reference, **facts,
    )  # fmt: skip


# -- parties and roles -------------------------------------------------------------------------------------------


class UnknownArea(Unusable):
    title = "This plant-health area is not in the record"
    todo = "Choose one from the list, or record it first."


class PartyForgotten(Refused):
    title = "This person was forgotten"
    todo = "Nothing can be recorded for them any more. Make a new person if they have come back."


class LastAdministrator(Refused):
    title = "The club needs an administrator"
    todo = "Make somebody else an administrator first."


class MayNotGive(NotAllowed):
    title = "You cannot give a role that may do more than you"
    todo = "Ask an administrator to give it."


class NotYours(NotAllowed):
    title = "This belongs to somebody else"


class CannotActFor(NotAllowed):
    title = "You may not act for somebody else"
    todo = "Do it in your own name, or ask somebody at the table to do it for you."


class UnknownParty(Unusable):
    title = "There is nobody to act for"
    todo = "Choose the person again from the list."


def can_give(giver: frozenset[May], roles: Iterable[Role]) -> bool:
    """Whether somebody with these rights may give these roles."""
    return may_of(roles) <= giver


def check_may_give(giver: frozenset[May], roles: Iterable[Role]) -> None:
    wanted = in_order(roles)
    if not can_give(giver, wanted):
        raise MayNotGive(f"You were about to give: {', '.join(wanted)}.", field="roles", roles=list(wanted))


def can_add_party(rights: frozenset[May], kind: PartyKind) -> bool:
    """At the table a guest is added by whoever hands wood over; members and clubs by those who look after people."""
    return May.PEOPLE in rights or (kind is PartyKind.GUEST and May.HAND_OVER in rights)


def check_may_add_parties(rights: frozenset[May], kinds: Iterable[PartyKind]) -> None:
    if not all(can_add_party(rights, kind) for kind in kinds):
        raise NotAllowed(f"You may add guests; a member or another club needs the right '{May.PEOPLE.value}'.", right=May.PEOPLE.value)


def kind_with_roles(kind: PartyKind, roles: Iterable[Role]) -> PartyKind:
    """A guest who is given a role is a member from then on."""
    return PartyKind.MEMBER if kind is PartyKind.GUEST and any(True for _ in roles) else kind


# What people may change of their own party; the rest is for those who look after people.
OWN_FIELDS = frozenset({"name", "contact", "keep_contact_for_recall"})


def can_change_party(rights: frozenset[May], *, own: bool, fields: Iterable[str]) -> bool:
    return May.PEOPLE in rights or (own and set(fields) <= OWN_FIELDS)


def check_may_change_party(rights: frozenset[May], *, own: bool, fields: Iterable[str]) -> None:
    wanted = sorted(fields)
    if not can_change_party(rights, own=own, fields=wanted):
        raise NotYours(
            "You can change your own name, contact and privacy choice; a steward changes the rest.", fields=wanted
        )


# -- passwords ---------------------------------------------------------------------------------------------------


class WeakPassword(Unusable):
    title = "This password is too easy to guess"
    todo = f"Take at least {SHORTEST_PASSWORD} letters, for instance four words that do not belong together."


def can_be_password(password: str, names: Iterable[str]) -> bool:
    """Long enough, more than one sign, and none of the person's own names."""
    folded = fold_person(password)
    long_enough = SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD
    return long_enough and len(set(folded.replace(" ", ""))) > 1 and all(folded != fold_person(name) for name in names)


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
    todo = "Nothing was written. Load the page again and send the form once more."


class NeedsBrowser(NotAllowed):
    title = "A token may not do this"
    todo = "Sign in with your name and password and do it there."


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
        raise ScopeNotYours(f"You may not yourself: {', '.join(sorted(set(scopes) - rights))}.", field="scopes")


# -- invitations -------------------------------------------------------------------------------------------------


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


def state_of_invitation(used_at: datetime | None, revoked_at: datetime | None, expires_at: datetime, now: datetime) -> InvitationState:
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
            InvitationState.EXPIRED: f"It was good until {invitation.expires_at:%Y-%m-%d %H:%M} UTC.",
            InvitationState.OPEN: "The person it was for was forgotten.",
        }
        raise InvitationGone(words[state], state=state.value)


def digest_of(secret: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(secret.encode()).hexdigest()


def sign_in_until(now: datetime) -> datetime:
    """When a sign-in made now ends."""
    return now + timedelta(days=SIGN_IN_DAYS)
