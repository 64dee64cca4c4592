"""A tree with tagged bundles, written by the real actions with the answer cards following, and what is done with them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

from sqlalchemy import select
from sqlmodel import col

from service.bundles.schemas import BundleRead
from service.collection.schemas import CollectionCreate
from service.exchange import actions as exchange
from service.exchange.schemas import HandOverCreate, ReturnCreate, TableBackCreate
from service.grafting import actions as grafting
from service.grafting.schemas import GraftCreate, GraftRead, TakeCheckCreate
from service.lib.clock import FixedClock
from service.lib.database import Database
from service.lib.write import Writer
from service.provenance import actions, queries
from service.provenance.schemas import RecallCreate, RecallRead, ScanAnswer, StopOnWoodRead, StopOpen
from service.provenance.tables import AnswerCard
from service.tags import actions as tags
from service.tags.schemas import LabelledCutCreate
from tests.builders.bundles import settle
from tests.builders.trees import Orchard, make_orchard, make_tree
from tests.infra.cast import Cast


@dataclass
class Yard:
    """An orchard with one tree, and the cast living in its area."""

    writer: Writer
    database: Database
    cast: Cast
    orchard: Orchard
    tree_id: UUID

    def cut(self, *sticks: int, tree_id: UUID | None = None, **told: Any) -> list[BundleRead]:
        """Tagged bundles of a new cut."""
        whole = {"stage": "00", "leaves_down": True, "disinfected": True, **told}
        cut = CollectionCreate(tree_id=tree_id or self.tree_id, sticks=sum(sticks), **whole)
        body = LabelledCutCreate(cut=cut, bundles=[{"sticks": n} for n in sticks])
        return self.writer.write_now(tags.collect_and_label, self.cast.collector, [body])[0].bundles

    def hand_over(self, bundle: UUID, sticks: int, party_id: UUID | None, form: str = "bundle") -> BundleRead:
        body = HandOverCreate(bundle_id=bundle, sticks=sticks, party_id=party_id, form=form)
        return self.writer.write_now(exchange.hand_over, self.cast.steward, [body])[0].bundle

    def count_back(self, bundle: UUID, sticks: int) -> None:
        self.writer.write_now(
            exchange.count_back, self.cast.steward, TableBackCreate(bundle_id=bundle, sticks=sticks)
        )

    def take_back(self, bundle: UUID) -> None:
        self.writer.write_now(exchange.return_bundle, self.cast.steward, ReturnCreate(bundle_id=bundle))

    def graft(self, bundle: UUID, plants: int = 1, **told: Any) -> GraftRead:
        stock = {} if told.keys() & {"stock_tree_id", "plant_id"} else {"rootstock_id": self.orchard.m9_id}
        wood = [{"bundle_id": bundle, "sticks": 1}]
        body = GraftCreate(**{"woods": wood, **stock, "plants": plants, **told})
        return self.writer.write_now(grafting.record_grafts, self.cast.steward, [body])[0]

    def stop(self, tree_id: UUID | None = None, **told: Any) -> StopOnWoodRead:
        place = {} if "bundle_id" in told else {"tree_id": tree_id or self.tree_id}
        body = StopOpen(**{"reason": "health", **place, **told})
        return self.writer.write_now(actions.open_stop, self.cast.health_steward, body)

    def recall(self, stop_id: UUID) -> RecallRead:
        return self.writer.write_now(
            actions.start_recall, self.cast.health_steward, RecallCreate(id=uuid4(), stop_id=stop_id)
        )

    def took(self, graft_id: UUID) -> None:
        assert isinstance(self.writer.clock, FixedClock)
        self.writer.clock.move(timedelta(weeks=10))  # by then its method lets a take be judged
        body = TakeCheckCreate(graft_id=graft_id, alive=1, looked_at=1, is_verdict=True)
        self.writer.write_now(grafting.record_take_checks, self.cast.steward, [body])

    def cards(self, *bundle_ids: UUID) -> dict[UUID, dict[str, Any]]:
        """The stored cards as they stand, of flags too."""
        with self.database.reading() as session:
            wanted = select(AnswerCard).where(col(AnswerCard.bundle_id).in_(bundle_ids))
            return {row.bundle_id: json.loads(row.body) for row in session.execute(wanted).scalars()}

    def name_on_card(self, code: str | None) -> str:
        return str(self.scan(code).card["name"]["short"])

    def scan(self, code: str | None, who: str = "stranger") -> ScanAnswer:
        with self.database.reading() as session:
            return queries.answer_for(session, code or "", self.cast.asker(who), self.writer.clock.now())


def make_yard(writer: Writer, cast: Cast, **tree: Any) -> Yard:
    if actions.renew_cards not in writer.hooks:
        actions.follow_changes(writer)
    orchard = make_orchard(writer, cast.steward)
    people = [
        getattr(cast, who).party_id
        for who in ("member", "collector", "host", "steward", "health_steward", "administrator")
    ]
    settle(writer, orchard.area_id, cast.guest_id, *people)
    tree_id = make_tree(writer, cast.steward, orchard, **tree).id
    return Yard(writer, writer.database, cast, orchard, tree_id)
