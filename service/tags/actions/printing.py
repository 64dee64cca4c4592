"""The public address that tags carry, and printing labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Session, col

from service.lib.clock import local_day
from service.lib.codes import group_code, parse_code
from service.lib.errors import AlreadyKnown
from service.lib.write import insert_rows, recorded_at
from service.members.rules import Member
from service.tags import queries
from service.tags.queries import TagFacts
from service.tags.rules.addresses import check_host, split_scanned
from service.tags.rules.labels import LabelWords
from service.tags.rules.layout import check_label_size
from service.tags.rules.sheets import PrintChoice, check_choice, count_pages, get_sheet
from service.tags.rules.words import NoPublicAddress, UnknownTag, check_in_use, explain_typed
from service.tags.schemas import LabelSheetCreate, LabelSheetRead, PublicAddressCreate, PublicAddressRead
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
    choice = PrintChoice(
        get_sheet(body.sheet), body.first_label, body.copies, body.nudge_x_mm, body.nudge_y_mm
    )
    check_choice(choice)
    check_label_size(choice.sheet.label_w_mm, choice.sheet.label_h_mm)
    address = queries.current_address(session)
    if address is None:
        raise NoPublicAddress("Labels carry an address for years, and none is confirmed yet.")
    club = queries.club_on_labels(session)
    tags = _tags_to_print(session, body.codes)
    at = recorded_at(session)
    day = local_day(at, club.zone)
    words = queries.label_words(
        session, {(tag.kind, tag.thing_id) for tag in tags if tag.kind and tag.thing_id}, today=day
    )
    batch = LabelBatch(
        id=body.id, address_id=address.id, sheet=body.sheet, labels=len(tags) * body.copies, pages=count_pages(choice, len(tags)),
        first_label=body.first_label, copies=body.copies, nudge_x_mm=body.nudge_x_mm, nudge_y_mm=body.nudge_y_mm,
        club=club.short_name, printed_on=day, made_at=at, by_party_id=member.party_id,
    )  # fmt: skip
    session.add(batch)
    session.flush()
    insert_rows(
        session, PrintedLabel, [_kept_label(body.id, place, tag, words) for place, tag in enumerate(tags)]
    )
    session.execute(
        update(Tag)
        .where(col(Tag.code).in_({tag.code for tag in tags}))
        .values(batch_id=body.id, printed_at=at)
    )
    return LabelSheetRead.model_validate({**batch.model_dump(), "host": address.host})


def _tags_to_print(session: Session, typed: Sequence[str]) -> list[TagFacts]:
    """The tags in the order asked, every one of them in use."""
    read = [parse_code(split_scanned(text)[1]) for text in typed]
    for text, one in zip(typed, read, strict=True):
        if one.code is None:
            known = queries.match_known(session, one.suggestions())
            raise explain_typed(one, known, field="codes", which=text if len(typed) > 1 else "")
    codes = [one.signs for one in read]
    found = queries.facts_for_codes(session, sorted(set(codes)))
    for code in codes:
        if code not in found:
            raise UnknownTag(f"No tag carries the code {group_code(code)}.", field="codes", code=code)
        check_in_use(code, found[code].state, found[code].replaced_by)
    return [found[code] for code in codes]


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
