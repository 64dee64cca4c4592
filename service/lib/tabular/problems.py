"""What can be wrong with a table that somebody sends."""

from __future__ import annotations

from service.lib.errors import TooLarge, Unusable, WrongKind


class NotASheet(WrongKind):
    title = "This is not a table"
    todo = "Save the list as XLSX or as CSV in your spreadsheet program, and send that file."


class LockedSheet(Unusable):
    title = "This file is locked with a password"
    todo = "Open it in your spreadsheet program, take the password off, save it as XLSX, and send that file."


class BrokenSheet(Unusable):
    title = "This file cannot be read"
    todo = "Open it in your spreadsheet program, save it anew as XLSX or CSV, and send that file."


class EmptySheet(Unusable):
    title = "There is nothing in this table"
    todo = "Send a table with one row of headings and at least one row below it."


class NoSheetOfThatName(Unusable):
    title = "The file has no sheet of that name"
    todo = "Choose one of the sheets that are listed."


class UnreadableText(Unusable):
    title = "The letters of this file cannot be read"
    todo = (
        "Save it as CSV UTF-8 or as XLSX in your spreadsheet program; or say in which encoding it was saved."
    )


class TooManyRows(TooLarge):
    title = "These are more rows than are taken at once"
    todo = "Split the list into several files and send one after the other."


class TooManyColumns(TooLarge):
    title = "These are more columns than are taken"
    todo = "Delete the columns that nobody needs, and send the file again."
