"""The standing cast: one member per role, a guest without an account, and the stranger whom nobody knows.

The people and their club are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import ClassVar
from uuid import NAMESPACE_OID, UUID, uuid5

from service.lib.database import Database
from service.members.rules import Role, digest_of, fold_person, may_of
from service.members.signin import Asker
from service.members.tables import Account, Club, Party, PartyRole, SignIn

NAMES = {
    Role.MEMBER: "Marta Quill",
    Role.COLLECTOR: "Ilse Brandvik",
    Role.HOST: "Tomas Fell",
    Role.STEWARD: "Edda Morrow",
    Role.HEALTH_STEWARD: "Orla Penn",
    Role.ADMINISTRATOR: "Jonas Vey",
}
GUEST = "Pia Holm"
JOINED = datetime(2025, 1, 5, 12, 0, tzinfo=UTC)
ROLES = tuple(role.value for role in NAMES)
EVERYBODY = (*ROLES, "guest", "stranger")


def _id(kind: str, who: str) -> UUID:
    return uuid5(NAMESPACE_OID, f"cast/{kind}/{who}")


@dataclass(frozen=True)
class Cast:
    """Who plays: `cast.steward` and the others are askers ready for an action; the guest is a party only."""

    member: Asker
    collector: Asker
    host: Asker
    steward: Asker
    health_steward: Asker
    administrator: Asker
    guest_id: UUID
    stranger: ClassVar[None] = None

    def asker(self, who: str) -> Asker | None:
        """By name; nobody for the guest and the stranger, who do not sign in."""
        return None if who in {"guest", "stranger"} else getattr(self, who)

    def token(self, who: str) -> str | None:
        """What the browser of somebody signed in sends as its cookie."""
        return f"signed-in-{who}" if self.asker(who) else None


def _asker(role: Role) -> Asker:
    roles = frozenset({role, Role.MEMBER})
    party = _id("party", role)
    return Asker(
        account_id=_id("account", role),
        party_id=party,
        name=NAMES[role],
        roles=roles,
        may=may_of(roles),
        acting_for_id=party,
        csrf_token=f"csrf-{role}",
    )


def put_cast(database: Database) -> Cast:
    """Write the cast into a database, each with a browser signed in, and a club for them to belong to."""
    askers = {role: _asker(role) for role in NAMES}
    guest_id = _id("party", "guest")
    with database.writing_session() as session:
        if session.get(Club, 1) is None:
            session.add(
                Club(id=1, name="Hollin Vale Fruit Club", short_name="HOLLIN VALE", zone="Europe/London")
            )
        people = [("member", asker.party_id, asker.name) for asker in askers.values()] + [
            ("guest", guest_id, GUEST)
        ]
        session.add_all(
            Party(id=party_id, kind=kind, name=name, name_folded=fold_person(name), created_at=JOINED)
            for kind, party_id, name in people
        )
        session.flush()
        for role, asker in askers.items():
            session.add_all(
                PartyRole(party_id=asker.party_id, role=kind, given_at=JOINED) for kind in asker.roles
            )
            session.add(_account(role, asker))
        session.flush()
        session.add_all(_sign_in(role, asker) for role, asker in askers.items())
        session.commit()
    return Cast(**{role.value: asker for role, asker in askers.items()}, guest_id=guest_id)


def _account(role: Role, asker: Asker) -> Account:
    # No password opens these accounts: their browsers are signed in already.
    return Account(
        id=asker.account_id,
        party_id=asker.party_id,
        sign_in_name=role.value,
        sign_in_folded=fold_person(role.value),
        password_hash="!",
        created_at=JOINED,
    )


def _sign_in(role: Role, asker: Asker) -> SignIn:
    return SignIn(
        id=_id("sign-in", role),
        account_id=asker.account_id,
        token_sha256=digest_of(f"signed-in-{role.value}"),
        csrf_token=asker.csrf_token,
        created_at=JOINED,
        expires_at=JOINED + timedelta(days=3650),
    )
