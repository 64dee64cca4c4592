"""A plain reader of iCalendar, written from RFC 5545 alone, to check what the library writes."""

from __future__ import annotations

import re

# RFC 5545, 3.1: name, parameters (quoted or not), a colon, the value.
LINE = re.compile(
    r"([A-Za-z0-9-]+)((?:;[A-Za-z0-9-]+=(?:\"[^\"\x00-\x1f]*\"|[^\";:,\x00-\x1f]*))*):(.*)", re.DOTALL
)
ESCAPED = {"\\\\": "\\", "\\;": ";", "\\,": ",", "\\n": "\n", "\\N": "\n"}
TEXTS = {"SUMMARY", "DESCRIPTION", "NAME", "X-WR-CALNAME", "UID", "PRODID"}


def unfolded(body: bytes) -> list[str]:
    """The content lines. RFC 5545, 3.1: a line break and a blank within a line are taken out, as octets."""
    text = body.replace(b"\r\n ", b"").replace(b"\r\n\t", b"").decode("utf-8")
    return text.removesuffix("\r\n").split("\r\n")


def check_rules(body: bytes) -> None:
    """Form of the lines and what must stand in them; asserts."""
    assert body.endswith(b"\r\n"), "3.1: lines end with CRLF"
    physical = body.removesuffix(b"\r\n").split(b"\r\n")
    for sent in physical:
        assert b"\r" not in sent and b"\n" not in sent, "3.1: no lone CR or LF"
        assert 0 < len(sent) <= 75, f"3.1: lines should be no longer than 75 octets: {sent!r}"
        sent.decode("utf-8")  # 3.1.4: UTF-8; a letter torn in two would be none
    lines = unfolded(body)
    for line in lines:
        assert LINE.fullmatch(line), f"3.1: a content line: {line!r}"
        assert not re.search(r"[\x00-\x08\x0a-\x1f\x7f]", line), "3.1: no control signs"
    _check_parts(lines)
    for name, value in _values(lines):
        if name in TEXTS:
            rest = re.sub(r"\\[\\;,nN]", "", value)
            assert not re.search(r"[\\;,]", rest), f"3.3.11: {name} is escaped: {value!r}"


def _check_parts(lines: list[str]) -> None:
    assert lines[0] == "BEGIN:VCALENDAR" and lines[-1] == "END:VCALENDAR", "3.4"
    outside, events = _split(lines)
    names = [name for name, _ in _values(outside)]
    assert names.count("PRODID") == 1, "3.6, 3.7.3: PRODID once"
    assert [value for name, value in _values(outside) if name == "VERSION"] == ["2.0"], (
        "3.6, 3.7.4: VERSION once"
    )
    uids = []
    for event in events:
        told = [name for name, _ in _values(event)]
        for needed in ("UID", "DTSTAMP", "DTSTART"):
            assert told.count(needed) == 1, f"3.6.1: {needed} once"
        for at_most in ("SUMMARY", "DESCRIPTION", "URL", "LAST-MODIFIED", "TRANSP", "DTEND"):
            assert told.count(at_most) <= 1, f"3.6.1: {at_most} at most once"
        values = dict(_values(event))
        assert re.fullmatch(r"\d{8}T\d{6}Z", values["DTSTAMP"]), "3.8.7.2: DTSTAMP in UTC"
        assert re.fullmatch(r"\d{8}", values["DTSTART"]), "3.3.4: a date"
        assert any(line.startswith("DTSTART;VALUE=DATE:") for line in event), "3.2.20: a date says so"
        uids.append(values["UID"])
    assert len(set(uids)) == len(uids), "3.8.4.7: UIDs are unique"


def _split(lines: list[str]) -> tuple[list[str], list[list[str]]]:
    outside: list[str] = []
    events: list[list[str]] = []
    within = False
    for line in lines[1:-1]:
        if line == "BEGIN:VEVENT":
            assert not within, "3.6.1: no event within an event"
            within = True
            events.append([])
        elif line == "END:VEVENT":
            assert within
            within = False
        else:
            (events[-1] if within else outside).append(line)
    assert not within
    return outside, events


def _values(lines: list[str]) -> list[tuple[str, str]]:
    found = [LINE.fullmatch(line) for line in lines]
    return [(match[1].upper(), match[3]) for match in found if match]


def events_of(body: bytes) -> list[dict[str, str]]:
    """Each event's values by name, texts with their escapes undone (3.3.11)."""
    return [
        {name: re.sub(r"\\[\\;,nN]", lambda found: ESCAPED[found[0]], value) if name in TEXTS else value for name, value in _values(event)}
        for event in _split(unfolded(body))[1]
    ]  # fmt: skip
