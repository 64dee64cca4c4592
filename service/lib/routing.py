"""Routes that are put together when they are first asked for.

Working out what a route takes and gives costs milliseconds each, for hundreds of routes, of which a start needs one. So a
route keeps what it was told, answers to its address, and becomes whole at its first request or for the API's description.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute, Match, compile_path, get_name
from starlette.types import Scope

_NO_MATCH: tuple[Match, Scope] = (Match.NONE, {})
_OF_ADDRESS = ("path_regex", "path_format", "param_convertors")
_becoming_whole = threading.RLock()


class LateRoute(APIRoute):
    """A route that knows its address, and the rest when it is needed."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **told: Any) -> None:
        self._told: dict[str, Any] | None = told
        self.path = path
        self.endpoint = endpoint
        self.name = told.get("name") or get_name(endpoint)
        self.methods = {method.upper() for method in told.get("methods") or ("GET",)}
        self._begins, variable, _ = path.partition("{")
        self._fixed = not variable

    def __getattr__(self, name: str) -> Any:
        """Asked for what is not there yet."""
        if name in _OF_ADDRESS:
            self.path_regex, self.path_format, self.param_convertors = compile_path(self.path)
        else:
            self._become_whole()
        try:
            return self.__dict__[name]
        except KeyError:
            raise AttributeError(name) from None

    def _become_whole(self) -> None:
        with _becoming_whole:
            told, self._told = self.__dict__.get("_told"), None
            if told is None:
                return
            try:
                super().__init__(self.path, self.endpoint, **told)
            except BaseException:
                self._told = told  # so that the next request fails in the same words
                raise

    def matches(self, scope: Scope) -> tuple[Match, Scope]:
        path = scope.get("path", "")
        # Most routes can be told apart by how they begin, which costs less than their pattern.
        if not scope.get("root_path") and not (
            path == self.path if self._fixed else path.startswith(self._begins)
        ):
            return _NO_MATCH
        return super().matches(scope)


class PageRoute(LateRoute):
    """A page: not part of the API's description."""

    def __init__(self, path: str, endpoint: Callable[..., Any], **told: Any) -> None:
        super().__init__(path, endpoint, **{**told, "include_in_schema": False})


def take_routes(routes: list[BaseRoute], router: APIRouter) -> None:
    """Take the routes of a router as they are; including it would put each of them together, twice."""
    for route in router.routes:
        if not isinstance(route, LateRoute):
            raise TypeError(f"{route} needs a route class of ours")
    routes.extend(router.routes)
