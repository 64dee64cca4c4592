"""How kinds of people, roles and rights are said on pages."""

from __future__ import annotations

from collections.abc import Iterable

from service.members.rules import May, PartyKind, Role

KIND_WORDS = {PartyKind.MEMBER: "member", PartyKind.GUEST: "guest", PartyKind.CLUB: "other club"}

ROLE_WORDS = {
    Role.MEMBER: "member: sees the record, grafts own wood",
    Role.COLLECTOR: "collector: cuts wood and looks after trees",
    Role.HOST: "host: keeps wood cold and hands it over",
    Role.STEWARD: "steward: looks after people, names and the list",
    Role.HEALTH_STEWARD: "health steward: clears stops and leads recalls",
    Role.ADMINISTRATOR: "administrator: may do everything",
}

MAY_WORDS = {
    May.READ: "see the record",
    May.CATALOGUE: "change names of kinds and varieties",
    May.TREES: "record sites, areas and trees",
    May.TREE_CHECKS: "record looks at trees",
    May.COLLECT: "record cut and received wood",
    May.STICKS: "split, count and correct bundles",
    May.HAND_OVER: "hand wood over",
    May.STORE: "look after stores and boxes",
    May.READINGS: "send readings of loggers and thermometers",
    May.BUNDLE_CHECKS: "record looks at bundles",
    May.GRAFT: "record grafts and takes",
    May.LABELS: "print labels",
    May.STOP: "stop wood and trees",
    May.RELEASE: "release what was stopped, record the authority’s answers",
    May.RECALL: "lead recalls",
    May.PEOPLE: "see and change people, invite them",
    May.ACT_FOR: "act for others",
    May.ADMINISTER: "give roles and change the club’s settings",
}


def say_rights(rights: Iterable[May]) -> list[str]:
    """Rights in words, in the club's order."""
    held = set(rights)
    return [words for right, words in MAY_WORDS.items() if right in held]
