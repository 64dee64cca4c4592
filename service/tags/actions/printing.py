"""The public address that tags carry, printing labels, and printing blank tags ahead."""

from __future__ import annotations

from dataclasses import asdict
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.tags import queries
from service.tags.actions.tags import new_codes
from service.tags.queries import TagFacts
from service.tags.rules.addresses import check_host
from service.tags.rules.blanks import count_blanks
from service.tags.rules.labels import LabelWords, blank_label_words
from service.tags.rules.layout import check_label_size, check_pencil_room
from service.tags.rules.sheets import PrintChoice, check_choice, count_pages
from service.tags.rules.words import NoPublicAddress, Placement, TagState, check_in_use
from service.tags.schemas import (
    BlankBatchCreate,
    BlankBatchRead,
    LabelSheetCreate,
    LabelSheetRead,
    OnSheet,
    PublicAddressCreate,
    PublicAddressRead,
)
from service.tags.tables import LabelBatch, PrintedLabel, PublicAddress, Tag


def propose_address(session: Session, member: Member, body: PublicAddressCreate) -> PublicAddressRead:
    """Write down a host name for tags; nothing carries it until it is confirmed."""
    host = check_host(body.host)
    if any(known.host == host for known in queries.list_addresses(session)):
        raise AlreadyKnown(
            f"{host} was proposed before.", todo="Confirm it in the list of addresses.", field="host"
        )
    address = PublicAddress(host=host, by_party_id=member.party_id)
    session.add(address)
    session.flush()
    return PublicAddressRead(id=address.id, host=host)


def confirm_address(session: Session, member: Member, address_id: UUID) -> PublicAddressRead:
    """From now on labels carry this address. Those confirmed before stay accepted for ever."""
    address = queries.get_address(session, address_id)
    at = recorded_at(session)
    session.execute(
        update(PublicAddress)
        .where(col(PublicAddress.id) == address_id)
        .values(confirmed_at=at, by_party_id=member.party_id)
    )
    return PublicAddressRead(id=address.id, host=address.host, confirmed_at=at, is_current=True)


def print_labels(session: Session, member: Member, body: LabelSheetCreate) -> LabelSheetRead:
    """Note what is printed, word for word, so that the sheet can be drawn, now and later, the same."""
    choice = _choice(session, body, body.copies)
    address = _address_to_print(session)
    tags = queries.get_typed_tags(session, body.codes, field="codes")
    for tag in tags:
        check_in_use(tag.code, tag.state, tag.replaced_by)
    batch = _add_batch(session, member, body, choice, address, len(tags))
    words = queries.label_words(
        session,
        {(tag.kind, tag.thing_id) for tag in tags if tag.kind and tag.thing_id},
        today=batch.printed_on,
    )
    insert_rows(
        session, PrintedLabel, [_kept_label(body.id, place, tag, words) for place, tag in enumerate(tags)]
    )
    session.execute(
        update(Tag)
        .where(col(Tag.code).in_({tag.code for tag in tags}))
        .values(batch_id=body.id, printed_at=batch.made_at)
    )
    return LabelSheetRead.model_validate({**batch.model_dump(), "host": address.host})


def print_blanks(session: Session, member: Member, body: BlankBatchCreate) -> BlankBatchRead:
    """New codes, printed ahead and bound to nothing yet; each of them is accounted for from now on."""
    choice = _choice(session, body, 1)
    check_pencil_room(choice.sheet.face_w_mm, choice.sheet.label_h_mm)
    batch = _add_batch(session, member, body, choice, _address_to_print(session), body.blanks, is_blank=True)
    codes = new_codes(session, body.blanks)
    at = batch.made_at
    tag = {
        "kind": "", "thing_id": None, "state": TagState.BLANK.value, "placement": Placement.BAG.value,
        "batch_id": body.id, "printed_at": at, "made_at": at, "by_party_id": member.party_id,
    }  # fmt: skip
    insert_rows(session, Tag, [{"code": code, **tag} for code in codes])
    label = {"batch_id": body.id, "placement": Placement.BAG.value, "words": asdict(blank_label_words())}
    insert_rows(
        session, PrintedLabel, [{"place": place, "code": code, **label} for place, code in enumerate(codes)]
    )
    count = count_blanks([(TagState.BLANK, False, body.blanks)])
    return BlankBatchRead(id=body.id, sheet=body.sheet, made_at=at, **asdict(count))


def _choice(session: Session, body: OnSheet, copies: int) -> PrintChoice:
    choice = PrintChoice(
        queries.sheet_named(session, body.sheet), body.first_label, copies, body.nudge_x_mm, body.nudge_y_mm
    )
    check_choice(choice)
    check_label_size(choice.sheet.face_w_mm, choice.sheet.label_h_mm)
    return choice


def _address_to_print(session: Session) -> PublicAddressRead:
    address = queries.current_address(session)
    if address is None:
        raise NoPublicAddress("Labels carry an address for years, and none is confirmed yet.")
    return address


def _add_batch(
    session: Session, member: Member, body: OnSheet, choice: PrintChoice, address: PublicAddressRead, tags: int, *,
    is_blank: bool = False,
) -> LabelBatch:  # fmt: skip
    club = queries.club_on_labels(session)
    at = recorded_at(session)
    batch = LabelBatch(
        id=body.id, address_id=address.id, sheet=body.sheet, labels=tags * choice.copies, pages=count_pages(choice, tags),
        first_label=choice.first_label, copies=choice.copies, nudge_x_mm=choice.nudge_x_mm, nudge_y_mm=choice.nudge_y_mm,
        club=club.short_name, printed_on=local_day(at, club.zone), made_at=at, by_party_id=member.party_id, is_blank=is_blank,
    )  # fmt: skip
    session.add(batch)
    session.flush()
    return batch


def _kept_label(
    batch_id: UUID, place: int, tag: TagFacts, words: dict[UUID, LabelWords]
) -> dict[str, object]:
    assert tag.kind is not None
    assert tag.thing_id is not None
    said = words.get(tag.thing_id) or LabelWords(heading=tag.kind.capitalize(), name="")
    return {
        "batch_id": batch_id,
        "place": place,
        "code": tag.code,
        "placement": tag.placement.value,
        "words": asdict(said),
    }
