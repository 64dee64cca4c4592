"""What tests of pages share."""

from __future__ import annotations

import html
import re
from typing import Any

from tests.bad_input.desk import PAGE, typed_in, words_of

NEW_PASSWORD = "a scarf, a saw, a stool"


def fresh(page):
    """The hidden fields of the first form that asks for something."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.text)
    return {name: html.unescape(value) for name, value in found}


def read(browser: Any, path: str) -> Any:
    return browser.get(path, headers=PAGE)


def send(browser: Any, path: str, form: dict[str, str]) -> Any:
    return browser.post(path, data=form, headers=PAGE)


def opened(browser: Any, path: str, **typed: str) -> dict[str, str]:
    """The page's form as a browser holds it, with what is typed into it."""
    page = read(browser, path)
    assert page.status_code == 200, page.text
    form = page.text.partition("<main")[2].partition('<form method="post"')[2].partition("</form>")[0]
    return {**{name: values[0] for name, values in typed_in(form).items() if values}, **fresh(page), **typed}


def told_next(browser: Any, answer: Any) -> str:
    """The words of the page a saved form leads to."""
    assert answer.status_code == 303, words_of(answer)
    return words_of(read(browser, answer.headers["location"]))
