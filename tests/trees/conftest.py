"""An orchard to test in, and who works there."""

from __future__ import annotations

import pytest

from service.bundles.queries import bundles_of_trees
from service.lib.write import Writer
from service.trees.actions import following
from tests.builders.trees import Orchard, make_orchard
from tests.infra.cast import Cast


@pytest.fixture
def orchard(writer: Writer, cast: Cast) -> Orchard:
    return make_orchard(writer, cast.steward)


@pytest.fixture(autouse=True)
def followed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Trees are followed by their wood's answers, as in the running service, whichever test ran before in this process."""
    monkeypatch.setattr(following, "_FIND", [bundles_of_trees])
