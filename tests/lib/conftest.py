"""A writer whose thread commits in groups."""

from __future__ import annotations

from typing import Any

import pytest

from service.lib.database import Database
from service.lib.write import Writer


@pytest.fixture
def grouping(database: Database, clock: Any) -> Any:
    """A writer that waits a moment for company, so that calls made at once fall into one group."""
    made = Writer(database, clock, group_wait_ms=50)
    made.start()
    yield made
    made.stop()
