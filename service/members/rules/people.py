"""Parties, roles and rights: who may do what, and the checks on giving and changing."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import Protocol
from uuid import UUID

from service.lib.errors import NotAllowed, Refused, Unusable


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
    READINGS = "readings"
    BUNDLE_CHECKS = "bundle-checks"
    GRAFT = "graft"
    LABELS = "labels"
    STOP = "stop"
    RELEASE = "release"
    RECALL = "recall"
    PEOPLE = "people"
    ACT_FOR = "act-for"
    ADMINISTER = "administer"


# What each right lets somebody do, to finish the sentence "you may not …".
RIGHT_WORDS: Mapping[May, str] = {
    May.READ: "read the record",
    May.CATALOGUE: "change kinds and varieties",
    May.TREES: "enter or change trees",
    May.TREE_CHECKS: "write down looks at trees",
    May.COLLECT: "cut or receive wood",
    May.STICKS: "split, count or throw away wood",
    May.HAND_OVER: "hand wood over",
    May.STORE: "look after stores",
    May.READINGS: "send a logger’s readings",
    May.BUNDLE_CHECKS: "write down looks at bundles",
    May.GRAFT: "record grafts",
    May.LABELS: "print labels",
    May.STOP: "stop wood or trees",
    May.RELEASE: "release what a stop binds",
    May.RECALL: "lead a recall",
    May.PEOPLE: "look after people",
    May.ACT_FOR: "act for somebody else",
    May.ADMINISTER: "change the club’s settings",
}


# What a page is read for, where that is not what its right is for.
SEE_STORES = "see what lies in the club’s stores"
SEE_CARE = "see how the wood in stores is looked after"


def lacking(*rights: May, to: str = "") -> str:
    """What to say to somebody who has none of these rights; `to`: what for, where the right itself says something else."""
    return f"Your role does not let you {to or ' or '.join(RIGHT_WORDS[right] for right in rights)}."


_MEMBER = {May.READ, May.GRAFT}
_VOLUNTEER = _MEMBER | {
    May.TREE_CHECKS,
    May.BUNDLE_CHECKS,
    May.STICKS,
    May.HAND_OVER,
    May.STORE,
    May.READINGS,
    May.LABELS,
    May.STOP,
    May.ACT_FOR,
}

ROLE_MAY: Mapping[Role, frozenset[May]] = {
    Role.MEMBER: frozenset(_MEMBER),
    Role.COLLECTOR: frozenset(_VOLUNTEER | {May.COLLECT, May.TREES}),
    Role.HOST: frozenset(_VOLUNTEER),
    Role.STEWARD: frozenset(_VOLUNTEER | {May.COLLECT, May.TREES, May.CATALOGUE, May.PEOPLE}),
    Role.HEALTH_STEWARD: frozenset(_VOLUNTEER | {May.TREES, May.RELEASE, May.RECALL}),
    Role.ADMINISTRATOR: frozenset(May),
}

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


@dataclass(frozen=True)
class PartyFacts:
    id: UUID
    kind: PartyKind
    name: str
    area_id: UUID | None
    forgotten: bool


# -- names -----------------------------------------------------------------------------------------------------

# Letters that Unicode does not take apart into a plain letter and an accent.
_LETTERS = str.maketrans(
    {
        "æ": "ae",
        "œ": "oe",
        "ø": "o",
        "ł": "l",
        "đ": "d",
        "ð": "d",
        "þ": "th",
        "ı": "i",
        "ħ": "h",
        "ŧ": "t",
        "ŋ": "n",
    }
)
LONGEST_FOLDED = 400


def fold_person(name: str) -> str:
    """A person's name as it is searched: lower case, without accents or invisible signs, one blank between words."""
    taken_apart = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", name).casefold())
    plain = "".join(sign for sign in taken_apart if unicodedata.category(sign) not in ("Mn", "Cf"))
    return " ".join(plain.translate(_LETTERS).split())[:LONGEST_FOLDED]


# -- giving and changing -----------------------------------------------------------------------------------------


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
    title = "It is not clear for whom this is"
    todo = "Type the whole name as it is offered, or choose it from the list."


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
        raise NotAllowed(
            "You may add guests; members and other clubs are added by a steward.",
            right=May.PEOPLE.value,
        )


def kind_with_roles(kind: PartyKind, roles: Iterable[Role]) -> PartyKind:
    """A guest who is given a role is a member from then on."""
    return PartyKind.MEMBER if kind is PartyKind.GUEST and any(True for _ in roles) else kind


# What people may change of their own party; the rest is for those who look after people.
OWN_FIELDS = frozenset({"name", "contact", "email", "mail_wanted", "keep_contact_for_recall"})


def can_change_party(rights: frozenset[May], *, own: bool, fields: Iterable[str]) -> bool:
    return May.PEOPLE in rights or (own and set(fields) <= OWN_FIELDS)


def check_may_change_party(rights: frozenset[May], *, own: bool, fields: Iterable[str]) -> None:
    wanted = sorted(fields)
    if not can_change_party(rights, own=own, fields=wanted):
        raise NotYours(
            "You can change your own name, contact and privacy choice; a steward changes the rest.",
            fields=wanted,
        )


def can_see_party(rights: frozenset[May], *, own: bool) -> bool:
    """How to reach people is for those who look after them, and for themselves."""
    return own or May.PEOPLE in rights


def check_may_see_party(rights: frozenset[May], *, own: bool) -> None:
    if not can_see_party(rights, own=own):
        raise NotAllowed(lacking(May.PEOPLE), right=May.PEOPLE.value)


def sees_people(rights: frozenset[May]) -> bool:
    """Whether somebody may know who has what."""
    return bool(rights & {May.HAND_OVER, May.PEOPLE, May.RECALL})


class Everybody(Enum):
    """That somebody may know everybody's name beside wood: said outright, so that leaving it out tells nobody's."""

    NAMED = "everybody"


def names_only(member: Member) -> UUID | Everybody:
    """Whose name somebody is told beside wood: their own, or everybody's for who looks after people or hands wood over."""
    return Everybody.NAMED if sees_people(member.may) else member.acting_for_id


def may_name(name_only: UUID | Everybody | None, party_id: UUID | None) -> bool:
    return name_only is Everybody.NAMED or (party_id is not None and name_only == party_id)


def check_may_ask_who_has(member: Member, party_id: UUID | None) -> None:
    """What somebody has is listed for themselves, and for who may know who has what."""
    if party_id is not None and not may_name(names_only(member), party_id):
        raise NotAllowed("Who has what is told to who hands wood over or looks after people.")


def can_choose_party(rights: frozenset[May]) -> bool:
    """Names are listed for whoever hands wood over or acts for others."""
    return bool(rights & {May.HAND_OVER, May.ACT_FOR, May.PEOPLE})


def check_may_choose_party(rights: frozenset[May]) -> None:
    if not can_choose_party(rights):
        raise NotAllowed(
            lacking(May.HAND_OVER, May.ACT_FOR),
            right=May.HAND_OVER.value,
        )


def speaks_for(member: Member, party_id: UUID) -> bool:
    """Of what is somebody's: they, whoever acts on their behalf, and who looks after people."""
    return member.acting_for_id == party_id or May.PEOPLE in member.may
