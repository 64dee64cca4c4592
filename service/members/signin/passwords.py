"""Passwords are kept as Argon2id hashes only, and hashed one at a time: each hash takes 64 MiB."""

from __future__ import annotations

import threading

import anyio
import anyio.to_thread
from pwdlib import PasswordHash
from pwdlib.exceptions import UnknownHashError

from service.lib.errors import TooMany

_HASHER = PasswordHash.recommended()
_ONE_AT_A_TIME = threading.Lock()
# A hash of nobody's password, made with the parameters above, so that an unknown name takes as long as a known one.
NOBODYS_HASH = (
    "$argon2id$v=19$m=65536,t=3,p=4$Dcsr7GTCczuzAUDdREYL0Q$s4Hw21MwuDuISUdHHKCxCnNW5eLKnz810XEMKi1t5Ho"
)
LONGEST_QUEUE = 64


def hash_password(password: str) -> str:
    """The hash to keep; for callers that are not asynchronous (the demo, tests)."""
    with _ONE_AT_A_TIME:
        return _HASHER.hash(password)


def verify_password(password: str, kept: str) -> tuple[bool, str | None]:
    """Whether the password is right, and a new hash where the kept one has old parameters."""
    with _ONE_AT_A_TIME:
        try:
            return _HASHER.verify_and_update(password, kept)
        except UnknownHashError:
            return False, None


class Hashing:
    """A queue of one before the hasher, so that waiting costs no thread; too long a queue is turned away."""

    def __init__(self) -> None:
        self._limiter: anyio.CapacityLimiter | None = None
        self._waiting = 0

    async def _one(self, work: object, *args: str) -> object:
        if self._limiter is None:
            self._limiter = anyio.CapacityLimiter(1)
        if self._waiting >= LONGEST_QUEUE:
            raise TooMany("Too many people are signing in at this moment.", wait_seconds=10)
        self._waiting += 1
        try:
            return await anyio.to_thread.run_sync(work, *args, limiter=self._limiter)  # type: ignore[arg-type]
        finally:
            self._waiting -= 1

    async def hash(self, password: str) -> str:
        return str(await self._one(hash_password, password))

    async def verify(self, password: str, kept: str) -> tuple[bool, str | None]:
        return await self._one(verify_password, password, kept)  # type: ignore[return-value]
