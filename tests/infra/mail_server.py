"""A mail server of our own for tests: a real socket that speaks as much of SMTP (RFC 5321) as letters need."""

from __future__ import annotations

import socketserver
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from typing import cast


@dataclass
class MailServer:
    """What it took, and how it behaves: `answers` says, by the command's first word, what it answers instead of 250."""

    port: int = 0
    answers: dict[str, str] = field(default_factory=dict)
    silent: bool = False
    taken: list[EmailMessage] = field(default_factory=list)
    envelopes: list[tuple[str, str]] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)

    def subjects(self) -> list[str]:
        return [str(one["Subject"]) for one in self.taken]


class _Talk(socketserver.StreamRequestHandler):
    def handle(self) -> None:
        mind = cast(_Server, self.server).mind
        if mind.silent:
            time.sleep(2)
            return
        self._say(mind.answers.get("CONNECT", "220 mail.test"))
        sender = receiver = ""
        while line := self.rfile.readline().decode().strip():
            mind.heard.append(line)
            word = line.split()[0].upper()
            if word in mind.answers:
                self._say(mind.answers[word])
            elif word == "EHLO":
                self._say("250-mail.test")
                self._say("250 AUTH PLAIN")
            elif word == "MAIL":
                sender = line.partition("<")[2].partition(">")[0]
                self._say("250 OK")
            elif word == "RCPT":
                receiver = line.partition("<")[2].partition(">")[0]
                self._say("250 OK")
            elif word == "DATA":
                self._take(mind, sender, receiver)
            elif word == "AUTH":
                self._say("235 OK")
            elif word == "QUIT":
                self._say("221 bye")
                return
            else:
                self._say("250 OK")

    def _take(self, mind: MailServer, sender: str, receiver: str) -> None:
        self._say("354 go on")
        lines = []
        while (line := self.rfile.readline()) not in (b".\r\n", b""):
            lines.append(line[1:] if line.startswith(b"..") else line)
        mind.taken.append(message_from_bytes(b"".join(lines), policy=default))
        mind.envelopes.append((sender, receiver))
        self._say(mind.answers.get("END", "250 taken"))

    def _say(self, words: str) -> None:
        self.wfile.write(f"{words}\r\n".encode())


class _Server(socketserver.ThreadingTCPServer):
    daemon_threads = True
    mind: MailServer


@contextmanager
def mail_server() -> Iterator[MailServer]:
    """A mail server that listens while the test runs."""
    mind = MailServer()
    with _Server(("127.0.0.1", 0), _Talk) as server:
        server.mind = mind
        mind.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        yield mind
        server.shutdown()
        thread.join()
