"""The yard most of these tests play in."""

from __future__ import annotations

import pytest

from service.bundles.queries import bundles_of_trees
from service.catalogue.actions import supply_bundles_of_cultivars
from service.collection.queries import was_cut
from service.lib.write import Writer
from service.provenance.queries import bundles_of_cultivars
from service.trees.actions import supply_bundles_of_trees, supply_cuts_of_trees
from tests.builders.provenance import Yard, make_yard
from tests.infra.cast import Cast


@pytest.fixture
def yard(writer: Writer, cast: Cast) -> Yard:
    """A tree whose wood is cut, tagged and followed, with the cast living in its area."""
    supply_bundles_of_trees(bundles_of_trees)
    supply_cuts_of_trees(was_cut)
    supply_bundles_of_cultivars(bundles_of_cultivars)
    return make_yard(writer, cast)
