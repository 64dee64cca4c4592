"""What tests of blank tags share."""

from __future__ import annotations

import pytest

from service.lib.database import Database
from service.lib.write import Writer
from tests.builders.blanks import left_of, make_yard_that_prints, print_blanks
from tests.builders.tags import Yard


@pytest.fixture
def yard(writer: Writer) -> Yard:
    return make_yard_that_prints(writer)


@pytest.fixture
def blanks(database: Database, writer: Writer, yard: Yard) -> list[str]:
    """The codes of a fresh batch."""
    return left_of(database, print_blanks(writer, yard, 4).id)
