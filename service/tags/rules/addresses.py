"""The public address that tags carry: which host names can be printed, and reading scanned addresses back."""

from __future__ import annotations

import ipaddress
import re

from service.lib.errors import Unusable

MOST_SIGNS = 28
_LABEL = re.compile(r"[A-Z0-9]([A-Z0-9-]*[A-Z0-9])?")
_ADDRESS = re.compile(r"\s*(?:https?://)?([^/\s?#]+)/T/([^/\s?#]+)/?(?:[?#]\S*)?\s*", re.IGNORECASE)


class AddressCannotBePrinted(Unusable):
    title = "This address cannot be printed on tags"
    todo = f"Give the bare host name that phones will reach for years to come, at most {MOST_SIGNS} signs, such as tags.example.org."


def check_host(typed: str) -> str:
    """The host name in capitals, as it is printed; a refusal that names what is wrong."""
    host = typed.strip()
    if "://" in host or "/" in host or "@" in host or "?" in host or "#" in host:
        raise _refuse("Give the host name alone, without https:// and without a path.", host)
    if not host.isascii():
        raise _refuse(
            "The code can carry plain letters, figures, dots and hyphens only; use the name’s xn-- form.",
            host,
        )
    name, colon, port = host.upper().partition(":")
    if colon and not (port.isdigit() and not port.startswith("0") and 1 <= int(port) <= 65535):
        raise _refuse("After the colon a port from 1 to 65535 is needed.", host)
    if len(host) > MOST_SIGNS:
        raise _refuse(f"It has {len(host)} signs; at most {MOST_SIGNS} fit the code.", host)
    if not name or not all(len(part) <= 63 and _LABEL.fullmatch(part) for part in name.split(".")):
        raise _refuse("A host name is made of letters, figures and hyphens between dots.", host)
    if "." not in name or name.endswith((".LOCAL", ".LOCALHOST")) or _is_number_address(name):
        raise _refuse(
            "Phones outside this house could not find it: give a full name such as tags.example.org.", host
        )
    return name + colon + port


def tag_address(host: str, code: str) -> str:
    """What a tag's QR symbol says: all in capitals, which need fewer modules."""
    return f"HTTPS://{host}/T/{code}"


def split_scanned(text: str) -> tuple[str, str]:
    """Host (in capitals, or empty) and code signs of a scanned or typed text."""
    found = _ADDRESS.fullmatch(text)
    return (found[1].upper(), found[2]) if found else ("", text)


def _is_number_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name.replace(".", "").isdigit()
    return True


def _refuse(why: str, host: str) -> AddressCannotBePrinted:
    return AddressCannotBePrinted(why, field="host", host=host[:100])
