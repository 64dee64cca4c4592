"""Everything that can go wrong in words, as one tree of families.

Problem
├── NotFound          there is no such thing                                   (404)
├── NotSignedIn       nobody known is asking                                   (401)
├── NotAllowed        somebody known is asking, who may not                    (403)
├── Refused           well formed, but a rule says no now                      (409)
│   └── AlreadyKnown  this id was written before, under another key            (409)
├── Unusable          a value cannot be used as it stands                      (422)
│   └── KeyReused     the same idempotency key with another body               (422)
├── Stale             the thing changed since you read it                      (412)
├── NoVersion         an edit that does not say which version it read          (428)
├── NoKey             a change without an idempotency key                      (400)
├── Unreadable        the request's bytes are not what they claim              (400)
├── TooLarge          more than the limit                                      (413)
├── NotAllowedHere    a method that an address does not take                  (405)
├── WrongKind         a kind of content that is not taken here                 (415)
├── TooMany           too many tries                                           (429)
├── NotSaved          the database could not save; nothing was written         (503)
│   └── MaybeSaved    the connection broke while it was being saved            (503)
├── Unreachable       the record cannot be read just now                       (503)
└── Broken            a fault of the service itself                            (500)

Statuses are not written here: the web layer keeps the one table that maps families to them.
A stage subclasses a family in its `rules`, with the numbers as facts:
`NotEnoughSticks(on_hand=7, asked=50)`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


class Problem(Exception):
    """Something a person must hear of: what is wrong, and what to do next.

    `title` is the same for every occurrence; `detail` tells this one; `outcome` says what became of the change
    that was asked for; `todo` is the next step; `facts` are the numbers and words behind it, for programs.
    `lift` is the address of the one form that lifts a refusal, filled in as far as is known; `lift_words` says what is
    done there, and `lift_right` who may.
    """

    title = "Something is wrong"
    outcome = "Nothing was written."
    todo = "Look at what stands now, then try again."
    lift_words = ""
    lift_right = ""

    def __init__(
        self, detail: str = "", *, todo: str = "", field: str = "", lift: str = "", **facts: Any
    ) -> None:
        super().__init__(detail or self.title)
        self.detail = detail or self.title
        self.todo = todo or self.todo
        self.field = field
        self.lift = lift
        self.facts = facts

    @classmethod
    def slug(cls) -> str:
        """The kind of problem as a word for its address, e.g. `not-enough-sticks`."""
        name = cls.__name__
        return "".join("-" + c.lower() if c.isupper() and i else c.lower() for i, c in enumerate(name))


class NotFound(Problem):
    title = "There is no such thing"
    todo = "Check the address or the code, or look it up by name."


class NotSignedIn(Problem):
    title = "You are not signed in"
    todo = "Sign in and try again; what you typed is still on your page."


class NotAllowed(Problem):
    title = "Your role does not allow this"
    todo = "Ask a steward or an administrator of the club."


class Refused(Problem):
    title = "This cannot be done now"
    todo = "Look at what stands now, and decide anew."


class AlreadyKnown(Refused):
    title = "This was written before"
    outcome = "Nothing was written twice."
    todo = "Look at what stands before you send it as something new."


class Unusable(Problem):
    title = "A value cannot be used as it stands"
    todo = "Mend what is named here, then send it again."


class KeyReused(Unusable):
    title = "The same key came with another body"
    todo = "Send the changed request under a new Idempotency-Key."


class Stale(Problem):
    title = "It changed since you read it"
    todo = "Read it again, then make your change."


class NoVersion(Problem):
    title = "An edit must say which version it read"
    todo = (
        "Send the ETag of your last read as If-Match; or *, where it holds whatever others changed meanwhile."
    )


class NoKey(Problem):
    title = "A change needs a key"
    todo = "Send an Idempotency-Key header, a fresh UUID per thing you do, so that a repeat does no harm."


class Unreadable(Problem):
    title = "The request could not be read"
    todo = "Send UTF-8 text in the form the documentation shows."


class TooLarge(Problem):
    title = "This is too large"
    todo = "Send less at once."


class WrongKind(Problem):
    title = "This kind of content is not taken here"
    todo = "Send the kind of content that the documentation names."


class NotAllowedHere(Problem):
    title = "This address does not take that method"
    todo = "Look up in the documentation which methods it takes."


class TooMany(Problem):
    title = "Too many tries"
    todo = "Wait a little, then try again."


class NotSaved(Problem):
    title = "It could not be saved"
    todo = "Send the same request again; its key keeps it from counting twice."


class MaybeSaved(NotSaved):
    title = "Nobody can say whether it was saved"
    outcome = "It may or may not have been saved."
    todo = "Send the same request again with the same key: it is done once, and you are told which it was."


class Unreachable(Problem):
    title = "The record cannot be reached just now"
    todo = "Wait a little, then try again; tell an administrator if it stays so."


class Broken(Problem):
    title = "Something went wrong on our side"
    outcome = "It may or may not have been saved."
    todo = "Look whether it stands before you send it again, and tell an administrator the number of this answer."


def every_problem(of: type[Problem] = Problem) -> Iterator[type[Problem]]:
    """Every kind of problem that the service's loaded parts know."""
    for kind in of.__subclasses__():
        if kind.__module__.startswith("service."):
            yield kind
        yield from every_problem(kind)


ANY_VERSION = -1  # somebody said that their edit holds whatever stands now


def check_version(have: int, read: int) -> None:
    """Refuse an edit made on an older reading than what stands."""
    if read not in (have, ANY_VERSION):
        raise Stale(f"You read version {read}; version {have} stands now.", have=have, read=read)
