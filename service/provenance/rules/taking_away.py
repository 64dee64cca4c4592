"""What is taken away as plain tables, what is not and why, and what can go wrong."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from service.lib.errors import NotSaved


class TakenAs(StrEnum):
    """One file of everything: CSV tables in a ZIP, or a workbook with a sheet for each."""

    ZIP = "zip"
    XLSX = "xlsx"


MEDIA_TYPES: Mapping[TakenAs, str] = {
    TakenAs.ZIP: "application/zip",
    TakenAs.XLSX: "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


def name_of_file(form: TakenAs, day: date) -> str:
    return f"everything-{day}.{form.value}"


# Tables that stay here, and why.
STAYS: Mapping[str, str] = {
    "account": "it lets people sign in",
    "sign_in": "it lets people sign in",
    "api_token": "it lets programs sign in",
    "calendar_address": "it lets calendars read",
    "invitation": "it lets people join",
    "recall_contact": "sealed: it is opened for a recall alone",
    "answer_card": "it is made of the other tables",
    "name_trigram": "it is made of the names",
    "kept_answer": "it only keeps a request that was sent twice from counting twice",
    "reference_taken": "it only says which reference files were read",
    "list_file": "lists that wait, or what became of them, are no record of wood",
    "list_thing": "lists that wait, or what became of them, are no record of wood",
    "numbers_used": "they are numbers of the program, and stand on the page “How it is reckoned”",
    "reading_day": "its readings stand one by one in the table “reading”",
}
READINGS = "reading"
READING_COLUMNS = ("logger", "logger_id", "at", "temp_as_given", "unit", "humidity_pct")

# What a reference to another table is told as, beside its identity.
TOLD_BY: Mapping[str, str] = {
    "party": "name", "area": "name", "site": "name", "source_tree": "number", "taxon": "botanical_name", "cultivar": "epithet",
    "rootstock": "name", "collection": "number", "bundle": "code", "graft": "number", "plant": "number", "store": "name",
    "box": "name", "place": "name", "logger": "name",
}  # fmt: skip


class NoRoomToWrite(NotSaved):
    title = "There is no room on the disk to write this file"
    outcome = "The record is as it was."
    todo = "Make room on the machine that runs the service, then ask for it again."


_FORM_WORDS: Mapping[TakenAs, tuple[str, ...]] = {
    TakenAs.ZIP: (
        "Each table is a CSV file (RFC 4180): UTF-8, commas, a line of headings first. Days are written 2026-02-14, instants in UTC.",
        "A text that begins like a formula has an apostrophe before it, so that no spreadsheet program works it out.",
    ),
    TakenAs.XLSX: (
        "Each table is a sheet, its headings in the first row. Instants are told in UTC; all text is text, never a formula.",
    ),
}


def readme(club: str, made_at: str, program: str, tables: Mapping[str, str], form: TakenAs) -> str:
    """What lies beside the tables: what each holds, and how the files are to be read."""
    width = max(map(len, tables), default=0)
    lines = [
        f"{club or 'A grafting club'}: everything of its record as plain tables, as it stood at {made_at}.",
        "",
        *_FORM_WORDS[form],
        "A column that ends in _id holds an identity; beside it stands in words, or by its number, what it points to.",
        "It holds names and contacts: keep it as safe as the club's own papers. Pictures are in the back-up, not here;",
        "and only a back-up can be restored.",
        "",
        *(f"{name:<{width}}  {words}" for name, words in tables.items()),
        "",
        "Not here, and why:",
        *(f"{name:<{width}}  {why}" for name, why in STAYS.items()),
        "",
        f"Program version: {program or 'unknown'}",
    ]
    return "\r\n".join(lines) + "\r\n"
