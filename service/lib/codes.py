"""Short printed codes with a check sign, and reading them back as people type them.

The check sign is a pure system with radix 2 after ISO/IEC 7064, with modulus 31 over our own alphabet. It
finds every single wrong sign and every swap of two neighbours.
"""

from __future__ import annotations

import secrets
import string
from dataclasses import dataclass
from enum import StrEnum

ALPHABET = "0123456789ABCDEFGHJKMNPQRTVWXYZ"  # without I L O S U, which are read as other signs
MODULUS = len(ALPHABET)
RADIX = 2
RANDOM_SIGNS = 7
LENGTH = RANDOM_SIGNS + 1
GROUP = 4

_VALUE = {sign: value for value, sign in enumerate(ALPHABET)}
_LOOK_ALIKE = {"I": "1", "L": "1", "O": "0", "S": "5", "U": "V"}
_DASHES = "-_.\u00ad\u2010\u2011\u2012\u2013\u2014\u2015\u2212"
_INVISIBLE = "\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"


class Fault(StrEnum):
    """Why typed signs are not a code."""

    LENGTH = "wrong length"
    SIGN = "sign not in the alphabet"
    CHECK = "check sign wrong"


@dataclass(frozen=True)
class TypedCode:
    """What became of the signs a person typed: a code that can exist, or the first thing wrong with it."""

    typed: str
    signs: str
    fault: Fault | None = None
    sign: str = ""
    position: int = 0  # of the wrong sign, counted from 1 among the signs that are not spaces or hyphens

    @property
    def code(self) -> str | None:
        return self.signs if self.fault is None else None

    def suggestions(self) -> tuple[str, ...]:
        """Codes that one slip away would explain what was typed; nothing for a code that is fine."""
        return () if self.fault is None else suggest_codes(self.signs)


def check_sign(body: str) -> str:
    """The sign that makes `body` a code."""
    return ALPHABET[(1 - RADIX * _remainder(body)) % MODULUS]


def is_code(signs: str) -> bool:
    """Whether these signs, exactly as written, are a code that can exist."""
    return len(signs) == LENGTH and all(s in _VALUE for s in signs) and _remainder(signs) == 1


def make_code() -> str:
    """A new random code; only the database can say that it is not in use."""
    body = "".join(secrets.choice(ALPHABET) for _ in range(RANDOM_SIGNS))
    return body + check_sign(body)


def group_code(code: str) -> str:
    """The code as it is printed and read aloud: `7K3P 9M2A`."""
    return " ".join(code[i : i + GROUP] for i in range(0, len(code), GROUP))


def parse_code(typed: str) -> TypedCode:
    """Read a typed code, forgiving spaces, hyphens, case and look-alikes, and say what is wrong otherwise."""
    kept = [c for c in typed if not c.isspace() and c not in _DASHES and c not in _INVISIBLE]
    signs = "".join(_read_sign(c) for c in kept)
    for position, (read, original) in enumerate(zip(signs, kept, strict=True), start=1):
        if read not in _VALUE:
            return TypedCode(typed, signs, Fault.SIGN, original, position)
    if len(signs) != LENGTH:
        return TypedCode(typed, signs, Fault.LENGTH)
    if _remainder(signs) != 1:
        return TypedCode(typed, signs, Fault.CHECK)
    return TypedCode(typed, signs)


def suggest_codes(signs: str) -> tuple[str, ...]:
    """Codes one slip away: a wrong sign, two neighbours swapped, a sign left out, a sign too many. In order of signs."""
    if len(signs) == LENGTH:
        tries = _with_one_changed(signs) | _with_neighbours_swapped(signs)
    elif len(signs) == LENGTH - 1:
        tries = {signs[:i] + s + signs[i:] for i in range(LENGTH) for s in ALPHABET}
    elif len(signs) == LENGTH + 1:
        tries = {signs[:i] + signs[i + 1 :] for i in range(len(signs))}
    else:
        return ()
    return tuple(sorted(t for t in tries if t != signs and is_code(t)))


def _remainder(signs: str) -> int:
    rest = 0
    for sign in signs:
        rest = (RADIX * rest + _VALUE[sign]) % MODULUS
    return rest


def _read_sign(sign: str) -> str:
    # Only plain letters are folded: str.upper() would turn other scripts' letters into ours.
    upper = sign.upper() if sign in string.ascii_letters else sign
    return _LOOK_ALIKE.get(upper, upper)


def _with_one_changed(signs: str) -> set[str]:
    return {signs[:i] + s + signs[i + 1 :] for i in range(len(signs)) for s in ALPHABET}


def _with_neighbours_swapped(signs: str) -> set[str]:
    return {signs[:i] + signs[i + 1] + signs[i] + signs[i + 2 :] for i in range(len(signs) - 1)}
