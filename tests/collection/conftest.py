"""An orchard to test in, and who works there."""

from __future__ import annotations

import pytest

from service.lib.write import Writer
from tests.builders.trees import Orchard, make_orchard
from tests.infra.cast import Cast


@pytest.fixture
def orchard(writer: Writer, cast: Cast) -> Orchard:
    return make_orchard(writer, cast.steward)
