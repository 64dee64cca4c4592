"""Forgetting a person across all stages: who they were goes, what became of the wood stays."""

from __future__ import annotations

from uuid import UUID

from sqlmodel import Session

from service.lib.clock import local_day
from service.lib.errors import NotAllowed
from service.lib.write import recorded_at
from service.members import actions as member_actions
from service.members.queries import club, get_party
from service.members.rules import May, Member, Role
from service.provenance import queries
from service.provenance.rules.stops import keep_until
from service.provenance.rules.telling import check_can_forget
from service.provenance.schemas import ForgottenRead


def forget_member(session: Session, member: Member, party_id: UUID) -> ForgottenRead:
    """Erase who a party was. Refused while a recall has not reached them; their wood stays in the record and in every recall.

    Where they agreed, how to reach them stays sealed for recalls until the look-back of today's wood ends.
    """
    party = get_party(session, party_id)
    if Role.ADMINISTRATOR in party.roles and May.ADMINISTER not in member.may:
        raise NotAllowed("Only an administrator forgets an administrator.", right=May.ADMINISTER.value)
    check_can_forget(
        untold=queries.open_recalls_not_told(session, party_id),
        has_unrecalled_wood=queries.has_unrecalled_wood(session, party_id),
    )
    home = club(session)
    until = keep_until(local_day(recorded_at(session), home.zone), home.recall_look_back_winters)
    agreed = party.keep_contact_for_recall and bool(party.contact) and not party.forgotten
    member_actions.erase_party(session, member, party_id, until)
    return ForgottenRead(party_id=party_id, contact_until=until if agreed else None)
