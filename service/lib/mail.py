"""Letters by e-mail, over SMTP and the standard library alone. Off until a mail server is named.

What speaks SMTP is imported where it is needed, to keep the start quick.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from service.lib.jobs import NotWorthAnotherTry, TryLater
from service.lib.settings import Settings

if TYPE_CHECKING:
    from email.message import EmailMessage
    from smtplib import SMTP

_ENCODED = "=?"  # how an encoded word begins


class MailAway(TryLater):
    """The mail server could not take it now; it is tried again. Its words are for whoever runs the club."""


@dataclass(frozen=True)
class Mail:
    """One letter. Its id stays the same however often it is sent, so that a second copy can be told for what it is."""

    id: UUID
    to: str
    subject: str
    text: str
    at: datetime


@dataclass(frozen=True)
class Post:
    """A mail server, and how it is spoken to."""

    host: str
    port: int
    security: str  # starttls, tls, plain
    user: str
    password: str = field(repr=False)
    sender: str
    timeout_seconds: float = 20.0

    def send(self, mail: Mail) -> None:
        """Hand one letter to the server. Raises `MailAway`, and `NotWorthAnotherTry` where the server refuses it for good."""
        import smtplib

        message = self.written(mail)
        try:
            with self._open() as server:
                server.send_message(message, self.sender, [mail.to])
        except (OSError, smtplib.SMTPException) as error:
            raise _trouble(error) from error

    def written(self, mail: Mail) -> EmailMessage:
        """The letter as it goes out: a subject in one line, whatever a store is called. Raises `NotWorthAnotherTry` for no address.

        The library refuses a line break in a heading, but would decode what stands there as an encoded word (RFC 2047), and a
        line break with it: that beginning is broken up.
        """
        from email.message import EmailMessage
        from email.utils import format_datetime

        if _ENCODED in self.sender + mail.to or len((self.sender + mail.to).split()) > 1:
            raise NotWorthAnotherTry("This is no address to send a letter to.")
        message = EmailMessage()
        message["From"], message["To"] = self.sender, mail.to
        message["Subject"] = " ".join(mail.subject.replace(_ENCODED, "= ?").split())
        message["Date"] = format_datetime(mail.at)
        message["Message-ID"] = f"<{mail.id}@{self.sender.rpartition('@')[2]}>"
        message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no machine should answer it
        message.set_content(mail.text)
        return message

    @contextmanager
    def _open(self) -> Iterator[SMTP]:
        import smtplib
        import ssl

        if self.security == "tls":
            server: SMTP = smtplib.SMTP_SSL(
                self.host, self.port, timeout=self.timeout_seconds, context=ssl.create_default_context()
            )
        else:
            server = smtplib.SMTP(self.host, self.port, timeout=self.timeout_seconds)
        try:
            if self.security == "starttls":
                server.starttls(context=ssl.create_default_context())
            if self.user:
                server.login(self.user, self.password)
            yield server
        finally:
            # What the server took it has: a goodbye that goes wrong must not have the letter sent again.
            with suppress(OSError, smtplib.SMTPException):
                server.quit()
            server.close()


def _trouble(error: Exception) -> Exception:
    """What a letter that was not taken means: whether it may be taken later, in words for whoever runs the club."""
    import smtplib

    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, words = next(iter(error.recipients.values()))
        return _refused(code, words, "the address")
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return MailAway(f"The mail server does not let us in: {_words(error.smtp_error)}")
    if isinstance(error, (smtplib.SMTPSenderRefused, smtplib.SMTPDataError)):
        return _refused(error.smtp_code, error.smtp_error, "the letter")
    if isinstance(error, smtplib.SMTPResponseException):
        answer = str(error.smtp_code) if error.smtp_code > 0 else "what no mail server would"
        return MailAway(f"The mail server answers {answer}: {_words(error.smtp_error)}")
    return MailAway(f"The mail server does not answer: {error or type(error).__name__}")


def _refused(code: int, told: bytes | str, what: str) -> Exception:
    """RFC 5321: what begins with a 5 is refused for good, what begins with a 4 may pass later."""
    words = f"The mail server refuses {what}: {code} {_words(told)}"
    return NotWorthAnotherTry(words) if code >= 500 else MailAway(words)


def _words(told: bytes | str) -> str:
    text = told.decode("utf-8", "replace") if isinstance(told, bytes) else told
    return " ".join(text.split())[:200]


def post_of(settings: Settings) -> Post | None:
    """The mail server of these settings; None where no mail is sent."""
    if not settings.mail_host:
        return None
    return Post(
        settings.mail_host, settings.mail_port, settings.mail_security, settings.mail_user,
        settings.mail_password.get_secret_value(), settings.mail_from, settings.mail_timeout_seconds,
    )  # fmt: skip
