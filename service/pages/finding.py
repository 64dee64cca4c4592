"""Long lists, chosen from by typing: a part of a name that fits one thing alone is enough."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from uuid import UUID

from sqlmodel import Session

from service.pages.choices import Choices
from service.pages.forms import Form, WrongFields, is_id

SEVERAL = 6
Lister = Callable[[Session], Choices]


def found(form: Form, name: str, lister: Lister) -> str:
    """The value behind what was typed or chosen; blank where nothing was. Raises `WrongFields` with what comes near.

    The list is read apart from the page's own reading, which must not begin before the writing has ended.
    """
    typed = form.text(name)
    if not typed or is_id(typed):
        return typed
    with form.reading() as session:
        choices = lister(session)
    wanted = _plain(typed)
    exact = [str(value) for value, words in choices if _plain(words) == wanted]
    begun = [str(value) for value, words in choices if _name_in(words) == wanted]
    part = [(str(value), words) for value, words in choices if wanted in _plain(words)]
    for fitting in (exact, begun, [value for value, _ in part]):
        if len(fitting) == 1:
            return fitting[0]
    if not part:
        raise WrongFields({name: f"nothing in the list goes by “{typed[:60]}”"})
    near = ", ".join(words for _, words in part[:SEVERAL])
    raise WrongFields({name: f"which of them: {near}{' or another' if len(part) > SEVERAL else ''}?"})


def id_of(form: Form, name: str, lister: Lister) -> dict[str, UUID]:
    """The same, as a field of a body, left out where nothing was typed."""
    value = found(form, name, lister)
    return {name: UUID(value)} if value else {}


def _name_in(words: str) -> str:
    """A name without what stands behind it to tell it from others."""
    return _plain(words).split(" · ")[0].split(" (")[0]


def _plain(words: str) -> str:
    folded = unicodedata.normalize("NFKD", words.casefold())
    return " ".join("".join(sign for sign in folded if not unicodedata.combining(sign)).split())
