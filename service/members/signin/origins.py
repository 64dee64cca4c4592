"""Whether a change was sent from a page of this service, and not from another website behind a member's back."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from urllib.parse import unquote_to_bytes, urlsplit

from fastapi import Request
from python_multipart.multipart import parse_options_header
from starlette.datastructures import FormData

from service.lib.errors import Unreadable
from service.members.rules import FormNotOurs, WrongOrigin

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
FORM_KINDS = ("application/x-www-form-urlencoded", "multipart/form-data")


def _is_own(request: Request, address: str) -> bool:
    told = urlsplit(address)
    # Behind a proxy the scheme we see may be another one; host and port are the ones the browser used.
    if told.netloc and told.netloc.lower() == request.headers.get("host", "").lower():
        return True
    origin = f"{told.scheme}://{told.netloc}".lower()
    trusted = request.app.state.settings.trusted_origins.split(",")
    return origin in {
        known.strip().rstrip("/").lower()
        for known in (*trusted, *getattr(request.app.state, "public_origins", ()))
        if known
    }


def came_from_us(request: Request) -> bool | None:
    """True where the browser says so, False where it says otherwise, None where nothing is said."""
    headers = request.headers
    if origin := headers.get("origin"):
        return _is_own(request, origin)
    if site := headers.get("sec-fetch-site"):
        return site in ("same-origin", "none")
    if referer := headers.get("referer"):
        return _is_own(request, referer)
    return None


def check_origin(request: Request) -> None:
    """For forms of people not signed in yet: refuse what says it comes from elsewhere."""
    if came_from_us(request) is False:
        raise WrongOrigin("The browser says that another website sent this.")


async def read_form(request: Request) -> FormData | None:
    """The form of a request, where it brings one. Raises `Unreadable` where its words are not UTF-8."""
    kind = request.headers.get("content-type", "")
    if not kind.lower().startswith(FORM_KINDS):
        return None
    # The parser would put other signs in place of what it cannot read, and nobody would notice.
    body = await request.body()
    try:
        for words in _words_in(body, kind):
            words.decode()
    except UnicodeDecodeError as error:
        raise Unreadable("The form is not UTF-8 text.") from error
    form = await request.form()
    request.state.form = form  # kept for a page about a problem; closed by the guard around every request
    return form


def _words_in(body: bytes, kind: str) -> Iterator[bytes]:
    """The bytes of a form's fields, uploaded files left out."""
    if kind.lower().startswith(FORM_KINDS[0]):
        yield unquote_to_bytes(body)
        return
    boundary = parse_options_header(kind)[1].get(b"boundary", b"")
    for part in body.split(b"--" + boundary) if boundary else ():
        head, _, content = part.partition(b"\r\n\r\n")
        if b"filename" not in head.lower():
            yield head + content


def check_change(request: Request, form: FormData | None, csrf_token: str) -> None:
    """Refuse a change made with a session's cookie unless it comes from our own page and knows its token."""
    ours = came_from_us(request)
    if ours is False:
        raise WrongOrigin("The browser says that another website sent this.")
    told = request.headers.get("x-csrf-token") or ""
    if not told and form is not None:
        field = form.get("csrf_token")
        told = field if isinstance(field, str) else ""
    if told:
        if not secrets.compare_digest(told.encode(), csrf_token.encode()):
            raise FormNotOurs("Its hidden token belongs to another sign-in.")
    elif not (ours and request.url.path.startswith("/api/") and form is None):
        raise FormNotOurs("It came without the hidden token of your sign-in.")
