"""Rows of a list of people. Nobody is entered twice, and nobody is given a role by a list."""

from __future__ import annotations

import re
from uuid import UUID

from service.lists.queries.known import mails_of
from service.lists.queries.planning import Around, CannotUse, KnownAlready, Values, area_for, word_of
from service.lists.rules import RowState, ThingKind
from service.members.rules import PartyKind, fold_person
from service.members.schemas import PartyCreate

_KINDS = {"member": PartyKind.MEMBER, "m": PartyKind.MEMBER, "full member": PartyKind.MEMBER, "mitglied": PartyKind.MEMBER,
          "membre": PartyKind.MEMBER, "guest": PartyKind.GUEST, "g": PartyKind.GUEST, "visitor": PartyKind.GUEST,
          "gast": PartyKind.GUEST, "invite": PartyKind.GUEST, "club": PartyKind.CLUB, "other club": PartyKind.CLUB,
          "verein": PartyKind.CLUB, "association": PartyKind.CLUB, "society": PartyKind.CLUB}  # fmt: skip
LONGEST_CONTACT = 500
_CONTACTS = ("email", "phone", "address")


def read_person(around: Around, values: Values, line: int) -> RowState:
    """One person or club. Raises `CannotUse`, `KnownAlready`, `Asked`."""
    name = values.get("name", "")
    if not name:
        raise CannotUse("name", "no name is told", "Write the name in the file, or leave the row out.")
    kind = word_of(_KINDS, values, "kind", "member, guest, club") or PartyKind.MEMBER
    contact = "; ".join(values[one] for one in _CONTACTS if one in values)
    if len(contact) > LONGEST_CONTACT:
        field = next(one for one in _CONTACTS if one in values)
        raise CannotUse(
            field, f"is longer than {LONGEST_CONTACT} letters with the rest", "Shorten it in the file."
        )
    _check_new(around, name, contact, line)
    number = f"Number in the old list: {values['their_number']}" if "their_number" in values else ""
    area_id = area_for(around, values, line)
    person = PartyCreate(
        id=around.id_of(line, "party"), name=name, kind=kind, contact=contact, area_id=area_id,
        keep_contact_for_recall=values.get("keep_contact_for_recall", False),
        note="\n".join(filter(None, [values.get("note", ""), number])),
    )  # fmt: skip
    _remember(around, person, line)
    return RowState.TAKEN


def _remember(around: Around, person: PartyCreate, line: int) -> None:
    assert person.id is not None
    around.plan.people.append(person)
    around.plan.made.append((ThingKind.PARTY, person.id, line))
    known, folded = around.match.known, fold_person(person.name)
    known.people.setdefault(folded, []).append(person.id)
    known.contacts[person.id] = person.contact
    around.seen[person.id] = (line, person.name)
    around.match.name_met("name", folded)
    for mail in mails_of(person.contact):
        known.mails.setdefault(mail, []).append(person.id)


def _check_new(around: Around, name: str, contact: str, line: int) -> None:
    """Raises `KnownAlready` where it is somebody who was told before, and `Asked` where that is not sure."""
    known, folded = around.match.known, fold_person(name)
    same = known.people.get(folded, [])
    if len(same) == 1 and not _differ(contact, known.contacts[same[0]]):
        raise KnownAlready("name", _where(around, same[0], name))
    by_mail = [one for mail in mails_of(contact) for one in known.mails.get(mail, ())]
    near = list(dict.fromkeys([*same, *by_mail])) or around.match.near("name", known.people, folded)
    if not near:
        return
    told = around.match.person_told(name, line, [(one, _words(around, one)) for one in near])
    if told is not None:
        raise KnownAlready("name", _where(around, told, name))


def _differ(one: str, other: str) -> bool:
    """Whether two contacts speak for two people: both are told, and nothing of one stands in the other."""
    first, second = (
        {part.strip().casefold() for part in re.split(r"[;,\n]", told) if part.strip()}
        for told in (one, other)
    )
    return bool(first) and bool(second) and not first & second


def _where(around: Around, one: UUID, name: str) -> str:
    if one in around.seen:
        return f"{name} stands in line {around.seen[one][0]} already"
    return f"{name} is in the record already"


def _words(around: Around, one: UUID) -> str:
    known = around.match.known
    if one in around.seen:
        line, name = around.seen[one]
        return f"{name} (line {line} of this list)"
    name, contact = known.words.get(one, ""), known.contacts.get(one, "")
    return f"{name} ({contact})" if contact else name
