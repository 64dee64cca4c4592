"""Tokens that a club made before they could be bound: they stay, bound to nothing, and going back keeps them too."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

import pytest
from alembic import command
from sqlalchemy import create_engine, inspect, text

from service.members.actions import make_token
from service.members.queries import known_by_token, list_tokens
from service.members.rules import May, Role, digest_of
from service.members.rules.access import Bound, BoundTo
from service.members.schemas import TokenCreate
from service.migrations.running import config_for, drift, migrate
from tests.builders.loggers import make_logger
from tests.builders.members import make_asker
from tests.builders.storage import make_ground

BEFORE = "20261128_1420_air_hours"
OLD = (
    "INSERT INTO api_token (id, account_id, name, token_sha256, scopes, created_at, last_used_on)"
    " VALUES (:id, :account, 'shed script', :digest, 'read,readings', :at, '2026-02-20')"
)


def columns(url: str) -> set[str]:
    engine = create_engine(url)
    try:
        return {each["name"] for each in inspect(engine).get_columns("api_token")}
    finally:
        engine.dispose()


def rows(url: str) -> list[dict[str, Any]]:
    """Every token as the database itself has it."""
    engine = create_engine(url)
    try:
        with engine.connect() as connection:
            found = connection.execute(text("SELECT * FROM api_token ORDER BY name")).mappings().all()
            return [dict(row) for row in found]
    finally:
        engine.dispose()


@pytest.fixture
def owner(writer):
    return make_asker(writer, Role.STEWARD)


def written_before(url: str, account_id: UUID, at: Any) -> None:
    """A token as the version before wrote it down."""
    sqlite = url.startswith("sqlite")
    told = {
        "id": uuid4().hex if sqlite else uuid4(), "account": account_id.hex if sqlite else account_id,
        "digest": digest_of("an old secret"), "at": at.replace(tzinfo=None).isoformat(" ") if sqlite else at,
    }  # fmt: skip
    engine = create_engine(url)
    try:
        with engine.begin() as connection:
            connection.execute(text(OLD), told)
    finally:
        engine.dispose()


def test_a_token_made_before_stays_good_and_is_bound_to_nothing(database, database_url, owner, clock) -> None:
    command.downgrade(config_for(database_url), BEFORE)
    assert not {"bound_kind", "bound_id"} & columns(database_url)
    written_before(database_url, owner.account_id, clock.now())
    (before,) = rows(database_url)

    migrate(database_url)

    (after,) = rows(database_url)
    assert after == before | {"bound_kind": None, "bound_id": None}
    assert drift(database_url) == ""
    with database.reading() as session:
        known = known_by_token(session, digest_of("an old secret"), None)
        (listed,) = list_tokens(session, owner.account_id)
    assert known is not None
    assert (known.account_id, known.scopes, known.bound) == (
        owner.account_id, frozenset({May.READ, May.READINGS}), None,
    )  # fmt: skip
    assert (listed.name, listed.created_at, listed.bound_kind) == ("shed script", clock.now(), None)


def test_going_back_takes_the_bond_alone_and_a_new_bond_can_be_made_afterwards(
    database, database_url, writer, owner
) -> None:
    logger = make_logger(writer, make_ground(writer), name="Grey logger")
    body = TokenCreate(
        name="a", scopes=[May.READINGS], bound_kind=BoundTo.LOGGER, bound_id=logger.id, expires_at=None
    )
    made = writer.write_now(make_token, owner, body)
    (before,) = rows(database_url)

    command.downgrade(config_for(database_url), BEFORE)

    assert rows(database_url) == [
        {name: value for name, value in before.items() if not name.startswith("bound_")}
    ]
    migrate(database_url)
    again = writer.write_now(make_token, owner, body)
    with database.reading() as session:
        bonds = [known_by_token(session, digest_of(each.token), None) for each in (made, again)]
    assert [each and each.bound for each in bonds] == [None, Bound(BoundTo.LOGGER, logger.id)]
