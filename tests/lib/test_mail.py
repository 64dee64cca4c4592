"""Letters over SMTP, to a real server on a socket (tests/infra/mail_server.py): what it takes, refuses, or never answers."""

from __future__ import annotations

import socket
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from email import message_from_bytes
from email.policy import default
from uuid import UUID

import pytest
from pydantic import ValidationError

from service.lib.jobs import NotWorthAnotherTry
from service.lib.mail import Mail, MailAway, Post, post_of
from service.lib.settings import Settings
from tests.infra.mail_server import MailServer, mail_server

MAIL = Mail(
    UUID(int=7), "bram@otterlea.example", "It froze in the Fridge “Øst”", "Move the wood.\n.\nDo it now.\n",
    datetime(2026, 2, 8, 7, 30, tzinfo=UTC),
)  # fmt: skip


@pytest.fixture
def server() -> Iterator[MailServer]:
    with mail_server() as running:
        yield running


@pytest.fixture
def post(server: MailServer) -> Post:
    return Post("127.0.0.1", server.port, "plain", "", "", "fridge@club.example", timeout_seconds=0.3)


def test_a_letter_arrives_whole_with_its_own_id(server, post):
    post.send(MAIL)

    (letter,) = server.taken
    assert server.envelopes == [("fridge@club.example", "bram@otterlea.example")]
    assert letter["Message-ID"] == f"<{UUID(int=7)}@club.example>"
    assert letter["Subject"] == MAIL.subject
    assert letter.get_content().replace("\r\n", "\n") == MAIL.text
    assert letter["Date"].datetime == MAIL.at
    assert letter["Auto-Submitted"] == "auto-generated"


def test_the_same_letter_sent_twice_has_the_same_id(server, post):
    post.send(MAIL)
    post.send(MAIL)

    assert len({letter["Message-ID"] for letter in server.taken}) == 1


def test_a_name_and_a_password_are_told(server, post):
    replace(post, user="club", password="plum and pear").send(MAIL)

    assert any(line.startswith("AUTH PLAIN") for line in server.heard)
    assert len(server.taken) == 1


@pytest.mark.parametrize(
    "word, answer, problem, words",
    [
        ("RCPT", "550 no such mailbox", NotWorthAnotherTry, "refuses the address: 550 no such mailbox"),
        ("RCPT", "451 come again", MailAway, "451 come again"),
        ("MAIL", "553 not from you", NotWorthAnotherTry, "refuses the letter: 553"),
        ("DATA", "554 not today", NotWorthAnotherTry, "refuses the letter: 554"),
        ("END", "552 too much", NotWorthAnotherTry, "refuses the letter: 552"),
        ("END", "452 disk full", MailAway, "452 disk full"),
        ("CONNECT", "554 go away", MailAway, "554"),  # of the server as it stands, not of this letter
        ("CONNECT", "gibberish", MailAway, "answers what no mail server would"),
    ],
)  # fmt: skip
def test_what_the_server_refuses(server, post, word, answer, problem, words):
    server.answers[word] = answer

    with pytest.raises(problem, match=words):
        post.send(MAIL)


def test_a_wrong_password_is_for_whoever_runs_the_club_and_is_tried_again(server, post):
    server.answers["AUTH"] = "535 no"

    with pytest.raises(MailAway, match="does not let us in: no"):
        replace(post, user="club", password="wrong").send(MAIL)


def test_a_server_that_is_down(post):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]

    with pytest.raises(MailAway, match="does not answer"):
        replace(post, port=port).send(MAIL)


def test_a_server_that_says_nothing_is_not_waited_for(server, post):
    server.silent = True

    with pytest.raises(MailAway, match="timed out"):
        post.send(MAIL)


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_nothing_is_told_to_a_server_that_cannot_keep_it_secret(server, post, security):
    with pytest.raises(MailAway):
        replace(post, security=security, user="club", password="plum and pear").send(MAIL)

    assert not any("AUTH" in line or "MAIL" in line for line in server.heard)
    assert server.taken == []


@pytest.mark.parametrize("line_break", ["\n", "\r\n", "\r", "\u2028", "\x0b"])
def test_a_line_break_in_a_name_makes_no_heading_and_the_letter_goes(server, post, line_break):
    post.send(replace(MAIL, subject=f"It froze{line_break}Bcc: all@club.example"))

    (letter,) = server.taken
    assert letter["Subject"] == "It froze Bcc: all@club.example"
    assert "Bcc" not in letter


@pytest.mark.parametrize(
    "to", ["bram@club.example\nBcc: all@club.example", "bram@club.example\r\n\r\nIt is over"]
)
def test_a_line_break_in_an_address_sends_nothing(server, post, to):
    with pytest.raises(NotWorthAnotherTry):
        post.send(replace(MAIL, to=to))

    assert server.taken == []


@pytest.mark.parametrize(
    "told",
    [
        "=?utf-8?q?a=0aReply-To:_x=40y.example?=",
        "==??utf-8?b?Zm9vCkJjYzogYUBiLmV4YW1wbGU=?=",
        "Øst =?utf-8?q?=0aBcc:_a=40b?=",
    ],
)
def test_no_name_of_the_record_becomes_a_header(server, post, told):
    """RFC 2047 lets a heading carry encoded words; a store may be named like one, and it stays a name."""
    post.send(replace(MAIL, subject=f"It froze in {told}"))

    (letter,) = server.taken
    plain = message_from_bytes(post.written(replace(MAIL, subject="It froze")).as_bytes(), policy=default)
    assert letter.keys() == plain.keys()
    assert "".join(str(letter["Subject"]).split()) == "".join(f"It froze in {told}".split())


def test_no_address_becomes_a_header(server, post):
    with pytest.raises(NotWorthAnotherTry):
        post.send(replace(MAIL, to="a@=?utf-8?q?a=0aBcc:_x=40y?=.example"))

    assert server.taken == []


@pytest.mark.parametrize("goodbye", ["421 closing", "500 what", "gibberish"])
def test_a_goodbye_that_goes_wrong_is_no_letter_that_was_not_taken(server, post, goodbye):
    server.answers["QUIT"] = goodbye

    post.send(MAIL)

    assert len(server.taken) == 1


def test_a_goodbye_that_goes_wrong_does_not_cover_what_was_refused(server, post):
    server.answers.update(RCPT="550 no such mailbox", QUIT="421 closing")

    with pytest.raises(NotWorthAnotherTry, match="550 no such mailbox"):
        post.send(MAIL)


# -- settings ---------------------------------------------------------------------------------------------------------

WHOLE = {"mail_host": "mail.club.example", "mail_from": "fridge@club.example"}


def test_no_mail_is_sent_until_a_server_is_named():
    assert post_of(Settings()) is None
    assert post_of(Settings(**WHOLE)) == Post(
        "mail.club.example", 587, "starttls", "", "", "fridge@club.example"
    )


def test_the_password_is_read_from_a_file_and_shown_nowhere(tmp_path):
    (tmp_path / "SCION_MAIL_PASSWORD").write_text("plum and pear\n")
    settings = Settings(**WHOLE, mail_user="club", _secrets_dir=tmp_path)

    post = post_of(settings)

    assert post is not None
    assert post.password == "plum and pear"
    assert "plum" not in repr(settings) + repr(post)


def test_settings_that_are_refused_print_no_password(tmp_path):
    (tmp_path / "SCION_MAIL_PASSWORD").write_text("plum and pear\n")

    with pytest.raises(ValidationError) as refused:
        Settings(**{**WHOLE, "mail_from": "nobody"}, _secrets_dir=tmp_path)

    assert "SCION_MAIL_FROM must be an address" in str(refused.value)
    assert "plum" not in str(refused.value)


@pytest.mark.parametrize(
    "wrong",
    [
        {"mail_from": ""},
        {"mail_from": "nobody"},
        {"mail_from": "a b@club.example"},
        {"mail_from": "a@=?utf-8?q?b=0aBcc:_c=40d?=.example"},
        {"mail_security": "none"},
        {"mail_security": "plain", "mail_user": "club"},
        {"mail_port": 0},
        {"mail_timeout_seconds": 0},
    ],
)
def test_settings_that_cannot_send_are_refused_at_the_start(wrong):
    with pytest.raises(ValidationError):
        Settings(**{**WHOLE, **wrong})


def test_on_this_machine_a_password_may_go_plain():
    Settings(**{**WHOLE, "mail_host": "127.0.0.1", "mail_security": "plain", "mail_user": "club"})
