"""An orchard to test in, and who works there."""

from __future__ import annotations

import pytest

from service.lib.write import Writer
from tests.builders.air import LATITUDE, set_group, set_latitude
from tests.builders.trees import Orchard, make_orchard, make_tree
from tests.builders.yard import Yard
from tests.infra.cast import Cast


@pytest.fixture
def orchard(writer: Writer, cast: Cast) -> Orchard:
    return make_orchard(writer, cast.steward)


@pytest.fixture
def yard(writer: Writer, cast: Cast, orchard: Orchard) -> Yard:
    set_latitude(writer, orchard.site_id, LATITUDE)
    set_group(writer, orchard.apple_id, "apple")
    return Yard(writer, cast, orchard, make_tree(writer, cast.steward, orchard).id)
