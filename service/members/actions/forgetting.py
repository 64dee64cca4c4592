"""Forgetting a person: who they were goes, that somebody held the wood stays."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from sqlalchemy import delete, update
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.write import KeptAnswer, recorded_at
from service.members import queries
from service.members.actions.access import revoke_sign_ins
from service.members.actions.calendars import drop_calendar_address
from service.members.actions.invitations import revoke_invitations_of
from service.members.actions.letters import drop_letters
from service.members.rules import FORGOTTEN, LastAdministrator, Member, Role
from service.members.tables import Account, ApiToken, Invitation, Party, PartyRole, RecallContact, SignIn

_NO_SYNC = {"synchronize_session": False}


_FORGOTTEN = {"name": FORGOTTEN, "name_folded": FORGOTTEN, "contact": "", "email": "", "note": ""}


def erase_party(session: Session, member: Member, party_id: UUID, contact_until: date | None) -> None:
    """This stage's part of forgetting: name, contact, e-mail, notes, letters, account, sessions, tokens and the calendar's address.

    The contact is sealed for recall until the day given, where the party agreed to that. Kept answers that name
    the party lose their text. Forgetting twice does no harm. Raises `NotFound`, `LastAdministrator`.
    """
    party = queries.get_party(session, party_id)
    if party.forgotten:
        return
    if Role.ADMINISTRATOR in party.roles and queries.count_administrators(session, but=party_id) == 0:
        raise LastAdministrator("The last administrator cannot be forgotten.")
    if party.keep_contact_for_recall and party.contact and contact_until is not None:
        session.add(RecallContact(party_id=party_id, contact=party.contact, until=contact_until))
    erased = session.execute(
        update(Party)
        .where(col(Party.id) == party_id, col(Party.forgotten_at).is_(None))
        .values(**_FORGOTTEN, forgotten_at=recorded_at(session), version=Party.version + 1)
        .returning(Party.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).first()
    if erased is None:
        raise NotFound("Somebody forgot them at the same moment.", id=str(party_id))
    session.execute(
        delete(PartyRole).where(col(PartyRole.party_id) == party_id).execution_options(**_NO_SYNC)
    )
    _close_account(session, party_id)
    drop_letters(session, party_id)
    revoke_invitations_of(session, party_id)
    session.execute(
        update(Invitation)
        .where(col(Invitation.party_id) == party_id)
        .values(note="")
        .execution_options(**_NO_SYNC)
    )
    session.execute(
        update(KeptAnswer)
        .where(col(KeptAnswer.body).contains(str(party_id)))
        .values(body=None)
        .execution_options(**_NO_SYNC)
    )


def _close_account(session: Session, party_id: UUID) -> None:
    now = recorded_at(session)
    account_id = session.execute(
        update(Account)
        .where(col(Account.party_id) == party_id)
        .values(
            disabled_at=now, sign_in_name=FORGOTTEN, sign_in_folded=f"{FORGOTTEN} {party_id.hex}", password_hash="",
            version=Account.version + 1,
        )
        .returning(Account.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).scalar_one_or_none()  # fmt: skip
    if account_id is None:
        return
    revoke_sign_ins(session, account_id)
    drop_calendar_address(session, account_id)
    session.execute(
        update(SignIn)
        .where(col(SignIn.account_id) == account_id)
        .values(device="")
        .execution_options(**_NO_SYNC)
    )
    session.execute(
        update(ApiToken)
        .where(col(ApiToken.account_id) == account_id)
        .values(revoked_at=now, name=FORGOTTEN)
        .execution_options(**_NO_SYNC)
    )
