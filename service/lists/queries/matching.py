"""Names of a list found in the record: surely, by an answer, as something new, or asked once per spelling."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from uuid import UUID, uuid5

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.catalogue.rules import fold_name
from service.lists.queries.known import Known
from service.lists.rules import DayOrder, fold_heading
from service.lists.schemas import ListOption, ListQuestion
from service.members.rules import fold_person

AS_TOLD, NEW, LEAVE_OUT = "as_told", "new", "leave_out"
LONG_ID = 36
_WORDS = {AS_TOLD, NEW, *(order.value for order in DayOrder)}
_ALLOWED: dict[str, set[str]] = {
    "variety": {AS_TOLD},
    "kind": set(),
    "giver": {AS_TOLD},
    "store": set(),
    "site_area": set(),
    "days": set(),
}
_OFFERED = {AS_TOLD: "none of these: keep the name as it is written", NEW: "none of these: make it new",
            LEAVE_OUT: "leave these rows out"}  # fmt: skip
_DAYS = {DayOrder.DAY_FIRST: "3/4/2025 is 3 April", DayOrder.MONTH_FIRST: "3/4/2025 is 4 March"}
NEAREST = 3
NEAR = 0.8  # of the letters in common: nearer than this is rather a typing mistake than another name
MOST_ASKED = 60  # questions shown at once


class Asked(Exception):
    """This row waits for an answer."""


class LeftOut(Exception):
    """This row stays out by an answer; the message is its spelling."""

    def __init__(self, what: str, spelling: str) -> None:
        super().__init__(spelling)
        self.what = what


def _numbers(name: str) -> list[str]:
    return re.findall(r"\d+", name)


class NearNames:
    """Names by their words: what is compared letter by letter shares a word, or is one word of the same first letter."""

    def __init__(self, names: Iterable[str]) -> None:
        self._by_word: dict[str, list[str]] = {}
        for name in names:
            self.add(name)

    def add(self, name: str) -> None:
        for key in self._keys(name):
            self._by_word.setdefault(key, []).append(name)

    def find(self, name: str) -> list[str]:
        found = dict.fromkeys(one for key in self._keys(name) for one in self._by_word.get(key, ()))
        return get_close_matches(name, found, NEAREST, NEAR)

    @staticmethod
    def _keys(name: str) -> list[str]:
        words = name.split()
        return words if len(words) > 1 else [name[:1], name]


@dataclass
class Matcher:
    """Finds names, keeps what must be asked, and what must be made new, by folded name."""

    session: Session
    list_id: UUID
    known: Known
    answers: Mapping[str, str]
    asked: dict[str, ListQuestion] = field(default_factory=dict)
    shown: dict[UUID, str] = field(default_factory=dict)  # people of whom more is said than their name
    answered: dict[str, ListQuestion] = field(default_factory=dict)
    new: dict[str, dict[str, tuple[UUID, str, int]]] = field(
        default_factory=dict
    )  # what: folded: id, name, line
    read_as: dict[str, str] = field(
        default_factory=dict
    )  # spellings matched without asking, where they differ
    _near_new: dict[str, NearNames] = field(default_factory=dict)
    left_days: set[str] = field(default_factory=set)  # fields whose days stay out where they could be two
    _kind_of: dict[str, UUID] = field(default_factory=dict)
    _sure: dict[tuple[str, str, UUID | None], UUID] = field(
        default_factory=dict
    )  # found before, without asking
    _near_of: dict[str, NearNames] = field(default_factory=dict)

    # -- varieties and kinds ---------------------------------------------------------------------------------------

    def variety(self, name: str, taxon_id: UUID | None, line: int) -> UUID | None:
        """The variety that is spelled so; None where its name is kept as told. Raises `Asked`."""
        if (sure := self._sure.get(("variety", name, taxon_id))) is not None:
            return sure
        folded = fold_name(name)
        found = [one for one, kind in self.known.spelled.get(folded, ()) if taxon_id in (None, kind)]
        if len(found) == 1:
            self._sure["variety", name, taxon_id] = found[0]
            facts = self.known.cultivars[found[0]]
            if fold_name(facts.epithet) != folded:
                self.read_as[name] = facts.page_name
            return found[0]
        kind = self.known.kinds.get(taxon_id) if taxon_id else None
        key = f"variety:{folded[:300]}:{kind.slug if kind else ''}"
        reply = self._reply(key, "variety", name, line, found)
        return None if reply == AS_TOLD else UUID(reply)

    def kind(self, name: str, line: int) -> UUID:
        """The kind that is called so. Raises `Asked`."""
        if name in self._kind_of:
            return self._kind_of[name]
        folded = fold_heading(name)
        found = self.known.kind_named.get(folded, [])
        if len(found) != 1:
            near = found or self._kinds_like(folded)
            found = [UUID(self._reply(f"kind:{folded[:300]}", "kind", name, line, near))]
        self._kind_of[name] = found[0]
        return found[0]

    def _kinds_like(self, folded: str) -> list[UUID]:
        """Every kind: those in whose name the word stands first, then those spelled nearly so, then the others."""
        named = self.known.kind_named
        like = [word for word in named if folded in word or word in folded]
        near = get_close_matches(folded, named, NEAREST, NEAR)
        others = sorted(self.known.kinds, key=lambda one: self.known.words[one].casefold())
        return list(
            dict.fromkeys([*(one for word in (*sorted(like), *near) for one in named[word]), *others])
        )

    # -- what can be made new --------------------------------------------------------------------------------------

    def person(self, name: str, line: int) -> UUID:
        return self._or_new("person", self.known.people, name, line)

    def site(self, name: str, line: int) -> UUID:
        return self._or_new("site", self.known.sites, name, line)

    def area(self, name: str, line: int) -> UUID:
        return self._or_new("area", self.known.areas, name, line)

    def area_of_site(self, name: str, line: int) -> UUID | None:
        """In which area a new site lies, asked once for each; None where the record has no area. Raises `Asked`."""
        areas = [one for found in self.known.areas.values() for one in found]
        if not areas:
            return None
        return UUID(self._reply(f"site_area:{fold_person(name)[:370]}", "site_area", name, line, areas))

    def _or_new(self, what: str, known: Mapping[str, list[UUID]], name: str, line: int) -> UUID:
        if (sure := self._sure.get((what, name, None))) is not None:
            return sure
        folded = fold_person(name)
        found = known.get(folded, [])
        if len(found) == 1:
            self._sure[what, name, None] = found[0]
            return found[0]
        made = self.new.setdefault(what, {})
        if folded in made:
            self._sure[what, name, None] = made[folded][0]
            return made[folded][0]
        near = found or [*self.near(what, known, folded), *self._near_new_ones(what, folded)]
        reply = self._reply(f"{what}:{folded[:380]}", what, name, line, near[:NEAREST]) if near else NEW
        if reply != NEW:
            return UUID(reply)
        new_id = uuid5(self.list_id, f"{what}/{folded}")
        made[folded] = (new_id, name[:300], line)
        self._near_new.setdefault(what, NearNames(())).add(folded)
        self.shown[new_id] = f"{name[:300]}, new in line {line}"
        return new_id

    def _near_new_ones(self, what: str, folded: str) -> list[UUID]:
        """Sites this list made new under nearly the same name; plot 1 and plot 2 are two, whatever their words."""
        if what != "site" or what not in self._near_new:
            return []
        near = self._near_new[what].find(folded)
        return [self.new[what][one][0] for one in near if _numbers(one) == _numbers(folded)]

    def name_of_new(self, what: str, new_id: UUID) -> str:
        """As it was told where it was first met."""
        return next(name for one, name, _ in self.new[what].values() if one == new_id)

    def near(self, what: str, known: Mapping[str, list[UUID]], folded: str) -> list[UUID]:
        """What goes by nearly the same name."""
        if what not in self._near_of:
            self._near_of[what] = NearNames(known)
        return [one for name in self._near_of[what].find(folded) for one in known[name]][:NEAREST]

    def name_met(self, what: str, folded: str) -> None:
        """A name that the list itself tells: the next one is compared with it too."""
        if what in self._near_of:
            self._near_of[what].add(folded)

    def giver(self, name: str, line: int) -> UUID | None:
        """Who gave wood; None where their name is kept in words. Raises `Asked` where it is nearly somebody's."""
        folded = fold_person(name)
        found = self.known.people.get(folded, [])
        if len(found) == 1:
            return found[0]
        near = found or self.near("giver", self.known.people, folded)
        reply = self._reply(f"giver:{folded[:380]}", "giver", name, line, near[:NEAREST]) if near else AS_TOLD
        return None if reply == AS_TOLD else UUID(reply)

    def store(self, name: str, line: int) -> UUID | None:
        """The store that is called so; None where none is called nearly so. Raises `Asked`."""
        folded = fold_person(name)
        found = self.known.stores.get(folded, [])
        if len(found) == 1:
            return found[0]
        near = found or self.near("store", self.known.stores, folded)
        return (
            UUID(self._reply(f"store:{folded[:380]}", "store", name, line, near[:NEAREST])) if near else None
        )

    def person_told(self, name: str, line: int, candidates: list[tuple[UUID, str]]) -> UUID | None:
        """Which of these people a row of a list of people tells; None where it is somebody new. Raises `Asked`."""
        key = f"name:{fold_person(name)[:330]}:{line}"
        for one, words in candidates:
            self.shown[one] = words
        reply = self._reply(key, "name", name, line, [one for one, _ in candidates])
        return None if reply == NEW else UUID(reply)

    def day_order(self, name: str, heading: str, line: int, rows: int) -> DayOrder | None:
        """Which comes first in a column whose days could be two days each; asked where nobody said it."""
        key = f"days:{name}"
        reply = self.answers.get(key, "")
        if reply == LEAVE_OUT:
            self.left_days.add(name)
        order = DayOrder(reply) if reply in set(DayOrder) else None
        options = [ListOption(value=one.value, words=words) for one, words in _DAYS.items()]
        (self.answered if order or reply == LEAVE_OUT else self.asked)[key] = ListQuestion(
            key=key,
            what="days",
            spelling=heading,
            rows=rows,
            line=line,
            options=options,
            answer=reply if order or reply == LEAVE_OUT else "",
        )
        return order

    # -- questions -------------------------------------------------------------------------------------------------

    def _reply(self, key: str, what: str, spelling: str, line: int, near: list[UUID]) -> str:
        reply = self.answers.get(key, "")
        if reply != LEAVE_OUT and reply in _WORDS - _ALLOWED.get(what, {NEW}):
            reply = ""  # a word that answers another question
        if what == "site" and len(reply) == LONG_ID:
            one = UUID(reply)
            if one not in near and one not in self.known.words:
                reply = ""  # a site that a former list would have made
        of = self.answered if reply else self.asked
        question = of.get(key)
        if question is None:
            options = [ListOption(value=str(one), words=self._words(one)) for one in near]
            question = of[key] = ListQuestion(
                key=key, what=what, spelling=spelling, rows=0, line=line, options=options, answer=reply
            )
        question.rows += 1
        if not reply:
            raise Asked(key)
        if reply == LEAVE_OUT:
            raise LeftOut(what, spelling)
        return reply

    def _words(self, one: UUID) -> str:
        facts = self.known.cultivars.get(one)
        if facts is None:
            return self.shown.get(one) or self.known.words.get(one, "")
        return f"{facts.page_name} ({facts.kind.lower()})"

    def questions(self) -> list[ListQuestion]:
        """Open questions first, the first of them with what is nearest in the catalogue; then those answered."""
        shown = list(self.asked.values())[:MOST_ASKED]
        for question in shown:
            if question.what == "variety" and not question.options:
                slug = question.key.rpartition(":")[2]
                taxon_id = next((one for one, kind in self.known.kinds.items() if kind.slug == slug), None)
                near = catalogue.search_cultivars(
                    self.session, question.spelling, taxon_id=taxon_id, limit=NEAREST
                )
                question.options = [
                    ListOption(value=str(one.id), words=f"{one.page_name} ({one.kind.lower()})")
                    for one in near
                ]
        told = [*shown, *list(self.answered.values())[:MOST_ASKED]]
        for question in told:
            words = [*sorted(_ALLOWED.get(question.what, {NEW})), LEAVE_OUT]
            question.options = [
                *question.options,
                *(ListOption(value=one, words=_OFFERED[one]) for one in words),
            ]
        return told
