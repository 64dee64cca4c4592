"""Who gets something: a party of the list, or a guest whose name is typed and who is recorded with what they take."""

from __future__ import annotations

from uuid import UUID

from service.members.rules import PartyKind
from service.members.schemas import PartyCreate
from service.pages import choices
from service.pages.finding import found
from service.pages.forms import Form, WrongFields


def receiver_of(form: Form) -> tuple[UUID, PartyCreate | None]:
    """The receiver, and the guest to record first where it is a new one. Raises `WrongFields`."""
    told = found(form, "party_id", choices.parties)
    if told:
        return UUID(told), None
    guest = _guest(form)
    assert guest.id is not None
    return guest.id, guest


def _guest(form: Form) -> PartyCreate:
    if not form.text("guest"):
        raise WrongFields({"party_id": "choose who takes them, or type a guest’s name"})
    area = {"area_id": form.id("guest_area")} if form.text("guest_area") else {}
    id = UUID(int=form.id("form_key").int ^ 2)
    try:
        return form.into(PartyCreate, id=id, kind=PartyKind.GUEST, name=form.text("guest"), **area)
    except WrongFields as error:
        raise WrongFields({"guest": error.wrong.get("name", error.detail)}) from error
