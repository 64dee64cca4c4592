"""Answer cards, renewed in the transaction of whatever changed what they say."""

from __future__ import annotations

from uuid import UUID

import orjson
from sqlmodel import Session

from service.lib.database import insert_of
from service.lib.write import Writer, recorded_at
from service.provenance import queries
from service.provenance.rules.card import card_of
from service.provenance.tables import AnswerCard


def renew_cards(session: Session, bundle_ids: frozenset[UUID]) -> None:
    """Write the cards of these bundles anew; the same statements for one and for thousands."""
    if not bundle_ids:
        return
    facts = queries.facts_for_cards(session, bundle_ids)
    at = recorded_at(session)
    rows = [
        {"bundle_id": one, "body": orjson.dumps(card_of(facts[one])).decode(), "made_at": at}
        for one in sorted(facts)
    ]
    if not rows:
        return
    statement = insert_of(session, AnswerCard)
    told = {"body": statement.excluded.body, "made_at": statement.excluded.made_at}
    session.execute(statement.on_conflict_do_update(index_elements=["bundle_id"], set_=told), rows)


def follow_changes(writer: Writer) -> None:
    """At start-up: have every change renew the cards of the bundles it touched, before it is saved."""
    writer.hooks.append(renew_cards)


def renew_all_cards(session: Session) -> int:
    """Write every card anew, as after the catalogue was loaded again; gives how many there are."""
    ids = queries.all_bundles(session)
    renew_cards(session, frozenset(ids))
    return len(ids)
