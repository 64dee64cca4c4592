"""How often something may be tried. Counted in memory, so each serving process counts for itself."""

from __future__ import annotations

import math
import threading
import time
from ipaddress import IPv6Address, ip_address, ip_network
from typing import TYPE_CHECKING

from fastapi import FastAPI, Request

from service.lib.errors import TooMany
from service.members.signin.passwords import Hashing

if TYPE_CHECKING:
    from limits import RateLimitItemPerMinute
    from limits.strategies import MovingWindowRateLimiter, SlidingWindowCounterRateLimiter

_making = threading.Lock()


class Limits:
    """Moving windows of a minute: tries to sign in per name, failures per address, calls per token, readings of a calendar,
    pictures of strangers per address.
    """

    def __init__(self, *, sign_in_tries: int, token_calls: int) -> None:
        # Imported by the first who signs in: it would lengthen the start of the service.
        from limits import RateLimitItemPerMinute
        from limits.storage import MemoryStorage
        from limits.strategies import MovingWindowRateLimiter, SlidingWindowCounterRateLimiter

        storage = MemoryStorage()
        self._exact = MovingWindowRateLimiter(storage)
        self._cheap = SlidingWindowCounterRateLimiter(storage)
        self._per_name = RateLimitItemPerMinute(sign_in_tries, namespace="name")
        # A hall shares one address: it may fail more often than one name before it has to wait.
        self._per_address = RateLimitItemPerMinute(sign_in_tries * 3, namespace="address")
        self._per_calendar = RateLimitItemPerMinute(sign_in_tries, namespace="calendar")
        self._per_pictures = RateLimitItemPerMinute(sign_in_tries, namespace="pictures")
        self._per_token = RateLimitItemPerMinute(token_calls, namespace="token")
        self.hashing = Hashing()

    def take_name(self, folded: str) -> None:
        """Count one try for a name to sign in with. Raises `TooMany`."""
        if not self._exact.hit(self._per_name, folded):
            raise _too_many(self._exact, self._per_name, folded, "Too many tries for this name.")

    def clear_name(self, folded: str) -> None:
        self._exact.clear(self._per_name, folded)

    def check_address(self, address: str) -> None:
        """Whether this address may try at all. Raises `TooMany`."""
        if not self._exact.test(self._per_address, address):
            raise _too_many(
                self._exact, self._per_address, address, "Too many failed tries from this address."
            )

    def count_failure(self, address: str) -> None:
        self._exact.hit(self._per_address, address)

    def take_calendar(self, address_digest: str) -> None:
        """Count one reading of somebody's calendar. Raises `TooMany`."""
        if not self._exact.hit(self._per_calendar, address_digest):
            raise _too_many(
                self._exact,
                self._per_calendar,
                address_digest,
                "This calendar was read too often in a minute.",
            )

    def take_picture(self, address: str) -> None:
        """Count one picture that a stranger wants read. Raises `TooMany`."""
        if not self._exact.hit(self._per_pictures, address):
            words = "Too many pictures were sent from this address in a minute."
            raise _too_many(self._exact, self._per_pictures, address, words)

    def take_token(self, token_id: str) -> None:
        """Count one call of an API token. Raises `TooMany`."""
        if not self._cheap.hit(self._per_token, token_id):
            raise _too_many(
                self._cheap, self._per_token, token_id, "This token has made too many calls in a minute."
            )


def _too_many(
    limiter: MovingWindowRateLimiter | SlidingWindowCounterRateLimiter,
    item: RateLimitItemPerMinute,
    key: str,
    words: str,
) -> TooMany:
    seconds = max(1, math.ceil(limiter.get_window_stats(item, key).reset_time - time.time()))
    return TooMany(words, todo=f"Wait {seconds} seconds, then try again.", wait_seconds=seconds)


def address_of(request: Request) -> str:
    """Where a request came from; of an IPv6 address the network, as one household has billions of addresses."""
    told = request.client.host if request.client else ""
    try:
        address = ip_address(told)
    except ValueError:
        return told
    return str(ip_network((address, 64), strict=False)) if isinstance(address, IPv6Address) else told


def limits_of(request: Request) -> Limits:
    """The app's limits, made when they are first needed."""
    state = request.app.state
    with _making:
        if state.limits is None:
            settings = state.settings
            state.limits = Limits(
                sign_in_tries=settings.sign_in_tries_per_minute, token_calls=settings.token_calls_per_minute
            )
        limits: Limits = state.limits
    return limits


def prepare(app: FastAPI) -> None:
    """Give the app a place for its limits."""
    app.state.limits = None
