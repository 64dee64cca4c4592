"""What should be known of wood that was cut, told again after the answer to the cut itself is gone."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.catalogue import queries as catalogue
from service.collection.queries.collections import get_collection
from service.collection.rules import Cutting, cutting_warnings
from service.collection.schemas import CollectionRead, CuttingWarning
from service.trees import queries as trees


def get_collection_with_warnings(session: Session, collection_id: UUID) -> CollectionRead:
    """One cut or receipt, with what the answer to its recording said of the tree too. At most four statements."""
    told = get_collection(session, collection_id)
    if told.tree_id is None:
        return told
    tree = trees.facts_for_cutting(session, [told.tree_id])[told.tree_id]
    variety = tree.cultivar
    if told.cultivar_id is not None and told.cultivar_id != tree.cultivar_id:
        variety = catalogue.facts_for_cultivars(session, [told.cultivar_id])[told.cultivar_id]
    wanted = Cutting(
        wood=told.wood, sticks=told.sticks, cut_on=told.cut_on, asker_ids=frozenset(), cut_this_season=0, stage=told.stage,
        leaves_down=told.leaves_down, leaves_off=told.leaves_off, disinfected=told.disinfected, owner_agreed=told.owner_agreed,
        done_at=told.done_at,
    )  # fmt: skip
    of_tree = [
        CuttingWarning(word=each.word, text=each.text) for each in cutting_warnings(tree, wanted, variety)
    ]
    return told.model_copy(update={"warnings": [*of_tree, *told.warnings]})
