"""What the labels of grafted plants say: scion, stock and date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from sqlalchemy import select
from sqlmodel import Session, col

from service.bundles.tables import Bundle
from service.catalogue.tables import Cultivar, Rootstock, Taxon
from service.collection.tables import Collection
from service.grafting.tables import Graft, GraftWood, Plant
from service.lib.clock import local_day
from service.members.queries import club
from service.tags.rules.labels import LabelWords, plant_words, wood_name
from service.trees.tables import SourceTree


def words_of_plants(session: Session, ids: Sequence[UUID], today: date) -> dict[UUID, LabelWords]:
    """Label words by plant; two statements."""
    statement = (
        select(
            col(Plant.id), col(Plant.number), col(Graft.done_at), col(Graft.stock_as_told), col(Rootstock.name).label("stock"),
            col(Taxon.kind).label("fruit"), col(Cultivar.epithet), col(Cultivar.trade_designation), col(Cultivar.protection),
            col(Cultivar.protected_until), col(Collection.name_as_told), col(SourceTree.no_propagation_contract),
        )
        .join(Graft, col(Graft.id) == col(Plant.graft_id))
        .join(GraftWood, (col(GraftWood.graft_id) == col(Graft.id)) & (col(GraftWood.part) == "scion"))
        .join(Bundle, col(Bundle.id) == col(GraftWood.bundle_id))
        .join(Collection, col(Collection.id) == col(Bundle.collection_id))
        .join(Taxon, col(Taxon.id) == col(Collection.taxon_id))
        .outerjoin(Cultivar, col(Cultivar.id) == col(Collection.cultivar_id))
        .outerjoin(SourceTree, col(SourceTree.id) == col(Collection.tree_id))
        .outerjoin(Rootstock, col(Rootstock.id) == col(Graft.rootstock_id))
        .where(col(Plant.id).in_(ids))
    )  # fmt: skip
    zone = club(session).zone
    words = {}
    for row in session.execute(statement):
        name = wood_name(
            row.fruit, epithet=row.epithet or "", trade_designation=row.trade_designation or "", as_told=row.name_as_told,
            protection=row.protection, protected_until=row.protected_until,
        )  # fmt: skip
        words[row.id] = plant_words(
            name, stock=row.stock or row.stock_as_told or "stock not told", grafted_on=local_day(row.done_at, zone),
            number=row.number, today=today, no_propagation=bool(row.no_propagation_contract),
        )  # fmt: skip
    return words
