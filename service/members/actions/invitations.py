"""Invitations: one link, one person, once."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy import select, update
from sqlmodel import Session, col

from service.lib.codes import ALPHABET
from service.lib.database import new_id
from service.lib.errors import NotFound, Unusable
from service.lib.write import once_only, recorded_at
from service.members import queries
from service.members.actions.access import revoke_sign_ins, start_sign_in
from service.members.actions.areas import ensure_club
from service.members.actions.parties import give_roles
from service.members.rules import (
    FIRST_INVITATION_DAYS,
    InvitationFacts,
    InvitationGone,
    InvitationState,
    Member,
    NotFirst,
    PartyForgotten,
    PartyKind,
    Role,
    SignInNameTaken,
    check_can_accept,
    check_may_give,
    digest_of,
    fold_person,
    in_order,
    kind_with_roles,
)
from service.members.schemas import InvitationAccept, InvitationCreate, InvitationMade, SignedInNow
from service.members.tables import Account, Invitation, Party

_NO_SYNC = {"synchronize_session": False}
# 26 of 31 signs are 128 bits; capitals and figures alone keep the printed QR code coarse enough for any phone.
TOKEN_SIGNS = 26


def invitation_path(token: str) -> str:
    return f"/J/{token}"


def _new_token() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(TOKEN_SIGNS))


@once_only
def make_invitation(session: Session, member: Member, body: InvitationCreate) -> InvitationMade:
    """An invitation with at most the giver's own rights. Raises `MayNotGive`, `PartyForgotten`, `NotFound`."""
    roles, name = in_order(body.roles), ""
    if body.party_id is not None:
        party = queries.get_party(session, body.party_id)
        if party.forgotten:
            raise PartyForgotten("A forgotten person cannot be invited.")
        name = party.name
        # Whoever sets somebody's password could act as them, so it takes all their rights to invite them again.
        check_may_give(member.may, party.roles)
    check_may_give(member.may, roles)
    until = recorded_at(session) + timedelta(days=body.valid_days)
    return _add(session, body.id, body.party_id, name, roles, body.note, until, member.party_id)


@once_only
def make_first_invitation(session: Session) -> InvitationMade:
    """The link that makes the first administrator, while nobody can sign in; a new one ends the one before."""
    ensure_club(session)
    if queries.any_account(session):
        raise NotFirst("Somebody can sign in already.")
    now = recorded_at(session)
    _revoke(session, now, col(Invitation.made_by_party_id).is_(None))
    until = now + timedelta(days=FIRST_INVITATION_DAYS)
    return _add(
        session, None, None, "", (Role.MEMBER, Role.ADMINISTRATOR), "First administrator", until, None
    )


def _add(
    session: Session, told_id: UUID | None, party_id: UUID | None, name: str,
    roles: tuple[Role, ...], note: str, until: datetime, by: UUID | None,
) -> InvitationMade:  # fmt: skip
    token, now = _new_token(), recorded_at(session)
    row = Invitation(
        id=told_id or new_id(), token_sha256=digest_of(token), party_id=party_id, roles=",".join(roles), note=note,
        made_by_party_id=by, created_at=now, expires_at=until,
    )  # fmt: skip
    session.add(row)
    return InvitationMade(
        id=row.id, party_id=party_id, party_name=name, roles=list(roles), note=note, created_at=now, expires_at=until,
        state=InvitationState.OPEN, token=token, path=invitation_path(token),
    )  # fmt: skip


def _revoke(session: Session, now: datetime, *which: object) -> None:
    session.execute(
        update(Invitation)
        .where(*which, col(Invitation.used_at).is_(None), col(Invitation.revoked_at).is_(None))  # type: ignore[arg-type]
        .values(revoked_at=now)
        .execution_options(**_NO_SYNC)
    )


def revoke_invitations_of(session: Session, party_id: UUID) -> None:
    """End what is still open for a party."""
    _revoke(session, recorded_at(session), col(Invitation.party_id) == party_id)


def revoke_invitation(session: Session, member: Member, invitation_id: UUID) -> None:
    """Take an invitation back; twice does no harm. Raises `InvitationGone` where it was used, `NotFound`."""
    _revoke(session, recorded_at(session), col(Invitation.id) == invitation_id)
    row = session.execute(select(col(Invitation.used_at)).where(col(Invitation.id) == invitation_id)).first()
    if row is None:
        raise NotFound("There is no such invitation.", id=str(invitation_id))
    if row.used_at is not None:
        raise InvitationGone(
            "It was used already; close the account instead.", todo="Take away the person’s roles."
        )


def accept_invitation(
    session: Session, body: InvitationAccept, password_hash: str, device: str
) -> SignedInNow:
    """Use an invitation: a party and its account, or a new password for an account that stands; signed in at once."""
    now = recorded_at(session)
    invitation = queries.find_invitation(session, digest_of(body.token))
    if invitation is None:
        raise NotFound("There is no such invitation.")
    check_can_accept(invitation, now)
    if invitation.is_first and queries.any_account(session):
        raise NotFirst("Somebody was quicker.")
    _claim(session, invitation.id, now)
    if invitation.account_id is not None and invitation.party_id is not None:
        _set_password(session, invitation.account_id, password_hash)
        signed_in = start_sign_in(session, invitation.account_id, invitation.party_id, device)
    else:
        party_id = _party_for(session, invitation, body)
        # Whoever forgets the person later finds the invitation and its note by them.
        session.execute(
            update(Invitation)
            .where(col(Invitation.id) == invitation.id)
            .values(party_id=party_id)
            .execution_options(**_NO_SYNC)
        )
        account_id = _add_account(session, party_id, body.sign_in_name, password_hash)
        give_roles(session, party_id, invitation.roles)
        signed_in = start_sign_in(session, account_id, party_id, device)
    revoke_invitations_of(session, signed_in.party_id)
    return signed_in


def _claim(session: Session, invitation_id: UUID, now: datetime) -> None:
    # Two people may hold the same link: the row decides who was first.
    claimed = session.execute(
        update(Invitation)
        .where(
            col(Invitation.id) == invitation_id, col(Invitation.used_at).is_(None),
            col(Invitation.revoked_at).is_(None), col(Invitation.expires_at) > now,
        )
        .values(used_at=now)
        .returning(Invitation.id)  # type: ignore[call-overload]
        .execution_options(**_NO_SYNC)
    ).first()  # fmt: skip
    if claimed is None:
        raise InvitationGone("It was used already, and works once only.", state=InvitationState.USED.value)


def _set_password(session: Session, account_id: UUID, password_hash: str) -> None:
    session.execute(
        update(Account)
        .where(col(Account.id) == account_id)
        .values(password_hash=password_hash, version=Account.version + 1)
        .execution_options(**_NO_SYNC)
    )
    revoke_sign_ins(session, account_id)


def _party_for(session: Session, invitation: InvitationFacts, body: InvitationAccept) -> UUID:
    """The party an invitation is for; where it names none, a new one."""
    if invitation.party_id is not None:
        if body.contact or body.keep_contact_for_recall:
            told = {"contact": body.contact, "keep_contact_for_recall": body.keep_contact_for_recall}
        else:
            told = {}
        if invitation.roles:
            session.execute(
                update(Party)
                .where(col(Party.id) == invitation.party_id, col(Party.kind) == PartyKind.GUEST.value)
                .values(kind=PartyKind.MEMBER.value, version=Party.version + 1)
                .execution_options(**_NO_SYNC)
            )
        if told:
            session.execute(
                update(Party)
                .where(col(Party.id) == invitation.party_id)
                .values(**told, version=Party.version + 1)
                .execution_options(**_NO_SYNC)
            )
        return invitation.party_id
    if not body.name:
        raise Unusable("Tell your name, as the club knows you.", field="name")
    only = queries.only_area(session)
    party = Party(
        id=new_id(), kind=kind_with_roles(PartyKind.GUEST, invitation.roles).value, name=body.name, name_folded=fold_person(body.name),
        contact=body.contact, keep_contact_for_recall=body.keep_contact_for_recall, area_id=only.id if only else None,
        created_at=recorded_at(session),
    )  # fmt: skip
    session.add(party)
    session.flush()
    return party.id


def _add_account(session: Session, party_id: UUID, sign_in_name: str, password_hash: str) -> UUID:
    folded = fold_person(sign_in_name)
    if not folded:
        raise Unusable("Choose a name to sign in with.", field="sign_in_name")
    if not queries.name_is_free(session, folded):
        raise SignInNameTaken(f"'{sign_in_name}' is taken.", field="sign_in_name")
    account = Account(
        id=new_id(), party_id=party_id, sign_in_name=sign_in_name, sign_in_folded=folded,
        password_hash=password_hash, created_at=recorded_at(session),
    )  # fmt: skip
    session.add(account)
    session.flush()
    return account.id
