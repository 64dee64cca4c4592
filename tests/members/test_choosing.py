"""Whom typed words mean: somebody's whole words or whole name, and nobody by a part of it. The people are invented."""

from __future__ import annotations

from uuid import UUID, uuid4

import pytest

from service.members import actions, queries
from service.members.rules import Choosable, PartyKind, Role, UnknownParty, whom_words_mean, words_to_choose
from service.members.schemas import PartyCreate
from tests.builders.members import OFFICE, make_area, make_asker

MEMBER, GUEST = PartyKind.MEMBER, PartyKind.GUEST
ROLES = (Role.MEMBER,)
WREN, WREN_GUEST, JON, MARA, PETTIFER, ROSA, OTHER_ROSA = (uuid4() for _ in range(7))
PEOPLE = [
    Choosable(WREN, "Wren Ashgrove", MEMBER, "North Vale", ROLES),
    Choosable(WREN_GUEST, "Wren Ashgrove", GUEST, "North Vale"),
    Choosable(JON, "Jon Marsh", MEMBER),
    Choosable(MARA, "Zoë Marlow", MEMBER),
    Choosable(PETTIFER, "Old Mr Pettifer", GUEST),
    Choosable(ROSA, "Rosa Lind", MEMBER, "North Vale", ROLES),
    Choosable(OTHER_ROSA, "rosa lind", MEMBER, "South Vale", ROLES),
]


@pytest.mark.parametrize(
    ("typed", "whom"),
    [("Jon Marsh", JON), ("  JON   marsh ", JON), ("zoe marlow", MARA), ("Old Mr Pettifer", PETTIFER),
     ("Old Mr Pettifer (guest)", PETTIFER), ("Wren Ashgrove (guest)", WREN_GUEST), ("wren ashgrove (MEMBER)", WREN),
     ("Rosa Lind (member) · South Vale", OTHER_ROSA)],
)  # fmt: skip
def test_whole_words_or_a_name_that_one_alone_has_choose(typed: str, whom: UUID) -> None:
    assert whom_words_mean(typed, words_to_choose(PEOPLE), "on_behalf_of") == whom


@pytest.mark.parametrize(
    ("typed", "told"),
    [("P", "“P” is nobody’s whole name. Was this meant: Old Mr Pettifer (guest)?"),
     ("Mars", "“Mars” is nobody’s whole name. Was this meant: Jon Marsh?"),
     ("Mar", "“Mar” is nobody’s whole name. Was this meant: Jon Marsh, Zoë Marlow?"),
     ("Wren Ashgrove", "“Wren Ashgrove” can be several: Wren Ashgrove (member), Wren Ashgrove (guest)."),
     ("Rosa Lind", "“Rosa Lind” can be several: Rosa Lind (member) · North Vale, rosa lind (member) · South Vale."),
     ("1", "Nobody goes by “1”."), ("guest", "Nobody goes by “guest”."), ("(", "Nobody goes by “(”."), ("·", "Nobody goes by “·”.")],
)  # fmt: skip
def test_a_part_or_a_shared_name_chooses_nobody(typed: str, told: str) -> None:
    with pytest.raises(UnknownParty) as refused:
        whom_words_mean(typed, words_to_choose(PEOPLE), "on_behalf_of")

    assert refused.value.detail == told


def test_namesakes_are_told_apart_by_area_then_by_what_they_do_then_by_number() -> None:
    host = (Role.MEMBER, Role.HOST)
    people = [
        Choosable(uuid4(), "Bo Fenwick", MEMBER, "North Vale", host),
        Choosable(uuid4(), "Bo Fenwick", MEMBER, "North Vale", ROLES),
        Choosable(uuid4(), "Bo Fenwick", MEMBER, "South Vale", ROLES),
        Choosable(uuid4(), "Ada Reed", GUEST),
        Choosable(uuid4(), "Ada Reed", GUEST),
    ]

    assert [one.words for one in words_to_choose(people)] == [
        "Bo Fenwick (member) · North Vale · host",
        "Bo Fenwick (member) · North Vale",
        "Bo Fenwick (member) · South Vale",
        "Ada Reed (guest) · 1 of 2",
        "Ada Reed (guest) · 2 of 2",
    ]


def test_the_record_tells_area_and_roles_of_namesakes_alone(writer, database, statements) -> None:
    north, south = make_area(writer, "North Vale"), make_area(writer, "South Vale")
    make_asker(writer, Role.STEWARD, name="Bram Oosterlaan")
    with database.reading() as session, statements.at_most(1):
        assert "Bram Oosterlaan" in [one.words for one in queries.everybody_to_choose(session)]
    bodies = [PartyCreate(name="Bo Fenwick", area_id=area.id) for area in (north, south)]
    bodies += [PartyCreate(name="Bram Oosterlaan", area_id=north.id)]
    writer.write_now(actions.add_parties, OFFICE, bodies)

    with database.reading() as session, statements.at_most(2):
        words = {one.words for one in queries.everybody_to_choose(session)}

    assert {"Bo Fenwick (member) · North Vale", "Bo Fenwick (member) · South Vale"} <= words
    bram = sorted(one for one in words if one.startswith("Bram"))
    assert len(bram) == 2 and not any("of 2" in one for one in bram), bram
