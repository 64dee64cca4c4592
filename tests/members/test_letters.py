"""Letters to people: on their page whatever becomes of the mail, mailed to who has an address and wants it, and gone with them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlmodel import select

from service.lib.errors import NotAllowed
from service.lib.jobs import Job, Worker
from service.lib.mail import Post
from service.members import actions, queries
from service.members.rules import LetterKind, MailState, NewLetter, Role, mail_state
from service.members.schemas import PartyUpdate
from tests.builders.members import make_asker, make_party, party_version
from tests.infra.mail_server import mail_server


def addressed(writer, *roles, email="bram@otterlea.example", wanted=True):
    asker = make_asker(writer, *roles or (Role.HOST,))
    version = party_version(writer, asker.party_id)
    body = PartyUpdate(email=email, mail_wanted=wanted)
    writer.write_now(actions.change_party, asker, asker.party_id, body, version)
    return asker


def letter_to(asker, **told):
    return NewLetter(asker.party_id, LetterKind.WARNING, "It froze", "Move the wood.", **told)


def write(writer, *letters):
    writer.write_now(actions.write_letters, None, letters)


def last(database, asker):
    with database.reading() as session:
        return queries.last_letter(session, asker.party_id, LetterKind.WARNING)


def waiting(database):
    with database.reading() as session:
        return list(session.exec(select(Job)).all())


@pytest.fixture
def server():
    with mail_server() as running:
        yield running


@pytest.fixture
def postman(database, writer, server):
    post = Post("127.0.0.1", server.port, "plain", "", "", "fridge@club.example", timeout_seconds=0.3)
    return Worker(database, writer, [actions.mailing(post)])


@pytest.mark.parametrize(
    "email, wanted, quiet, state",
    [
        ("", True, False, MailState.NO_ADDRESS),
        ("a@b.example", False, False, MailState.NOT_WANTED),
        ("a@b.example", True, True, MailState.NOT_NEEDED),
        ("a@b.example", True, False, MailState.WAITING),
    ],
)
def test_who_is_mailed(email, wanted, quiet, state):
    assert mail_state(email=email, wanted=wanted, quiet=quiet) is state


def test_a_letter_is_mailed_once_under_its_own_id(database, writer, server, postman):
    bram, letter = addressed(writer), None
    letter = letter_to(bram)
    write(writer, letter)
    assert last(database, bram).mail is MailState.WAITING

    postman.run_due()
    postman.run_due()

    assert last(database, bram).mail is MailState.SENT
    assert [str(one["Message-ID"]) for one in server.taken] == [f"<{letter.id}@club.example>"]
    assert waiting(database) == []


def test_without_a_mail_server_it_stands_and_says_so(database, writer):
    bram = addressed(writer)
    write(writer, letter_to(bram))

    Worker(database, writer, [actions.mailing(None)]).run_due()

    assert (last(database, bram).text, last(database, bram).mail) == ("Move the wood.", MailState.OFF)
    assert waiting(database) == []


def test_who_has_no_address_or_wants_no_mail_finds_it_on_their_page(database, writer):
    quiet, unaddressed = addressed(writer, wanted=False), make_asker(writer, Role.HOST)
    write(writer, letter_to(quiet), letter_to(unaddressed))

    assert last(database, quiet).mail is MailState.NOT_WANTED
    assert last(database, unaddressed).mail is MailState.NO_ADDRESS
    assert waiting(database) == []


def test_who_wants_no_more_mail_while_one_waits_gets_none(database, writer, server, postman):
    bram = addressed(writer)
    write(writer, letter_to(bram))
    body, version = PartyUpdate(mail_wanted=False), party_version(writer, bram.party_id)
    writer.write_now(actions.change_party, bram, bram.party_id, body, version)

    postman.run_due()

    assert server.taken == []
    assert last(database, bram).mail is MailState.NOT_WANTED


def test_what_the_server_refuses_for_good_stands_and_says_so(database, writer, clock, server, postman):
    bram = addressed(writer)
    server.answers["RCPT"] = "550 no such mailbox"
    write(writer, letter_to(bram))

    postman.run_due()

    assert last(database, bram).mail is MailState.FAILED
    with database.reading() as session:
        (told,) = queries.mail_in_trouble(session, clock.at - timedelta(days=1))
    assert told.mail_error == "The mail server refuses the address: 550 no such mailbox"


def test_a_server_that_is_away_is_tried_again_and_what_went_wrong_is_told_meanwhile(
    database, writer, clock, server, postman
):
    bram = addressed(writer)
    server.silent = True
    write(writer, letter_to(bram))
    postman.run_due()
    meanwhile = last(database, bram)

    server.silent = False
    clock.move(timedelta(minutes=2))
    postman.run_due()

    assert meanwhile.mail is MailState.WAITING
    assert (
        meanwhile.mail_error == "The mail server does not answer: Connection unexpectedly closed: timed out"
    )
    assert (last(database, bram).mail, last(database, bram).mail_error) == (MailState.SENT, "")
    assert len(server.taken) == 1


def test_a_server_that_stays_away_is_given_up_and_the_letter_stands(database, writer, clock, server, postman):
    bram = addressed(writer)
    server.answers["CONNECT"] = "421 closed"
    write(writer, letter_to(bram))
    begun = clock.at
    while last(database, bram).mail is MailState.WAITING and clock.at < begun + timedelta(days=4):
        postman.run_due()
        clock.at = max(clock.at, waiting(database)[0].due_at)

    assert last(database, bram).mail is MailState.FAILED
    (given_up,) = waiting(database)
    assert timedelta(days=2) < given_up.given_up_at - begun < timedelta(days=2.5)


def test_a_goodbye_that_goes_wrong_sends_no_letter_twice(database, writer, clock, server, postman):
    bram = addressed(writer)
    server.answers["QUIT"] = "421 closing"
    write(writer, letter_to(bram))
    for _ in range(3):
        postman.run_due()
        clock.move(timedelta(hours=1))

    assert last(database, bram).mail is MailState.SENT
    assert len(server.taken) == 1


def test_of_a_server_that_is_away_one_letter_is_tried_in_a_pass(database, writer, server, postman):
    bram = addressed(writer)
    server.answers["CONNECT"] = "421 closed"
    write(writer, *(letter_to(bram) for _ in range(3)))

    assert [postman.run_due() for _ in range(4)] == [1, 1, 1, 0]


def test_forgetting_somebody_erases_address_letters_and_waiting_mail(database, writer, server, postman):
    bram = addressed(writer)
    write(writer, letter_to(bram))
    office = make_asker(writer, Role.ADMINISTRATOR)

    writer.write_now(actions.erase_party, office, bram.party_id, date(2029, 3, 1))
    postman.run_due()

    with database.reading() as session:
        assert queries.get_party(session, bram.party_id).email == ""
    assert last(database, bram) is None
    assert (waiting(database), server.taken) == ([], [])


def test_nobody_writes_to_who_was_forgotten(database, writer):
    bram = addressed(writer)
    writer.write_now(actions.erase_party, make_asker(writer, Role.ADMINISTRATOR), bram.party_id, None)

    write(writer, letter_to(bram))

    assert last(database, bram) is None


# -- the address ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "email", ["bram", "a@b", "a@b@c.example", "a b@c.example", "bram@x.example\nBcc: all@x.example", "<a@b.example>", "ä@b.example"]
)  # fmt: skip
def test_what_is_no_address_is_refused(email):
    with pytest.raises(ValueError):
        PartyUpdate(email=email)


def test_an_address_is_ones_own_and_a_stewards_to_change(database, writer):
    bram, other, steward = addressed(writer), make_asker(writer, Role.HOST), make_asker(writer, Role.STEWARD)
    version = party_version(writer, bram.party_id)

    with pytest.raises(NotAllowed):
        writer.write_now(actions.change_party, other, bram.party_id, PartyUpdate(email=""), version)
    writer.write_now(
        actions.change_party, steward, bram.party_id, PartyUpdate(email="new@x.example"), version
    )

    with database.reading() as session:
        assert queries.get_party(session, bram.party_id).email == "new@x.example"


def test_everybody_of_a_role_is_found_by_name(database, writer):
    second, first = (
        make_asker(writer, Role.STEWARD, name="Zoe"),
        make_asker(writer, Role.STEWARD, name="Abel"),
    )
    make_party(writer, "Nobody")

    with database.reading() as session:
        assert queries.parties_with_role(session, Role.STEWARD) == [first.party_id, second.party_id]
