"""What a card says of stocks is what the catalogue advises, renewed as soon as the catalogue changes."""

from __future__ import annotations

from sqlalchemy import update
from sqlmodel import Session, col

from service.catalogue.queries import advice_for_wood
from service.catalogue.tables import Join
from service.lib.database import Database
from service.lib.write import Writer
from service.provenance.queries import facts_for_cards
from service.provenance.queries.advice import MOST_STOCKS, stocks_for_woods
from tests.builders.grafting import APPLE, GALA, HARDY, PEAR, WILLIAMS, make_bench, make_wood
from tests.infra.statements import Statements


def test_a_card_names_the_stocks_that_the_catalogue_advises(database: Database, writer: Writer) -> None:
    bench = make_bench(writer)
    woods = {
        (APPLE, GALA): make_wood(writer, bench, APPLE, GALA),
        (PEAR, WILLIAMS): make_wood(writer, bench, PEAR, WILLIAMS),
    }

    with database.reading() as session:
        for (taxon, cultivar), bundle in woods.items():
            card = facts_for_cards(session, [bundle])[bundle]
            advised = advice_for_wood(session, taxon, cultivar, limit=MOST_STOCKS)
            assert advised
            told = [(one.stock, one.verdict, one.note, one.mark) for one in card.stocks]
            assert told == [(one.rootstock, one.verdict, one.note, one.mark) for one in advised]


def test_a_changed_catalogue_is_heard_at_once_and_an_unchanged_one_costs_two_statements(
    database: Database, writer: Writer, statements: Statements
) -> None:
    make_bench(writer)
    wood = ("Pyrus communis", HARDY)
    with database.reading() as session:
        before = stocks_for_woods(session, [wood])[wood]
        with statements.exactly(2):
            stocks_for_woods(session, [wood])

    writer.write_now(_doubt_everything, None)

    with database.reading() as session:
        after = stocks_for_woods(session, [wood])[wood]
    assert ("Quince C", "compatible") in {(one.stock, one.verdict) for one in before}
    assert ("Quince C", "compatible") not in {(one.stock, one.verdict) for one in after}


def _doubt_everything(session: Session) -> None:
    session.execute(
        update(Join).where(col(Join.verdict) == "compatible").values(verdict="compatible_with_limits")
    )
