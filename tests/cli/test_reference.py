"""Reference pages cannot age: each equals what the code says now."""

from __future__ import annotations

import pytest

from service.cli.reference import FOLDER, PAGES


@pytest.mark.parametrize("name", sorted(PAGES))
def test_a_reference_page_says_what_the_code_says(name: str) -> None:
    written = (FOLDER / name).read_text()

    assert written == PAGES[name](), "run `python -m service reference`"
