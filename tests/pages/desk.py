"""What tests of pages about people share."""

from __future__ import annotations

import html
import re

NEW_PASSWORD = "a scarf, a saw, a stool"


def fresh(page):
    """The hidden fields of the first form that asks for something."""
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page.text)
    return {name: html.unescape(value) for name, value in found}
