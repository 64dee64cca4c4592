"""At the tree: a cut recorded, tied into bundles and tagged in one call, the same for wood from outside."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from sqlmodel import Session

from service.bundles import actions as bundle_actions
from service.bundles.schemas import BundleStart
from service.collection import actions as collection_actions
from service.collection.schemas import CollectionRead
from service.lib.errors import Problem
from service.members.rules import Member
from service.tags.actions.blanks import Hung, bind_blanks_to_new
from service.tags.actions.tags import bind_new_tags
from service.tags.rules.words import RowsRefused, TagKind, check_adds_up
from service.tags.schemas import BundlePart, LabelledCollection, LabelledCutCreate, LabelledReceiptCreate


def collect_and_label(
    session: Session, member: Member, body: list[LabelledCutCreate]
) -> list[LabelledCollection]:
    """Record cuts and tag their bundles: all of it or nothing, in as many statements for one as for twenty.

    A bundle that names the blank tag tied to it goes by that one; the others get new codes.
    """
    parts = [_parts(item.cut.sticks, item.bundles) for item in body]
    cuts = collection_actions.record_collections(session, member, [item.cut for item in body])
    return _label(session, member, cuts, parts)


def enter_pencilled_cuts(
    session: Session, member: Member, body: list[LabelledCutCreate]
) -> list[LabelledCollection]:
    """The same for a list that was pencilled before. Raises `RowsRefused`, which tells of every row that is refused.

    Rows are tried one by one only where the whole list is refused, so that a sound list costs no more.
    """
    try:
        with session.begin_nested():
            return collect_and_label(session, member, body)
    except Problem as problem:
        refused = _refused_rows(session, member, body)
        if not refused:
            raise
        raise RowsRefused(refused) from problem


def _refused_rows(session: Session, member: Member, body: list[LabelledCutCreate]) -> dict[UUID, Problem]:
    """What is wrong with each row, counted with the sound rows before it; nothing of them stays."""
    refused: dict[UUID, Problem] = {}
    for item in body:
        try:
            with session.begin_nested():
                collect_and_label(session, member, [item])
        except Problem as problem:
            refused[item.cut.id] = problem
    return refused


def receive_and_label(
    session: Session, member: Member, body: list[LabelledReceiptCreate]
) -> list[LabelledCollection]:
    """The same for wood from outside."""
    parts = [_parts(item.receipt.sticks, item.bundles) for item in body]
    receipts = collection_actions.record_receipts(session, member, [item.receipt for item in body])
    return _label(session, member, receipts, parts)


def _parts(sticks: int, bundles: list[BundlePart]) -> list[BundlePart]:
    check_adds_up(sticks, [part.sticks for part in bundles])
    return bundles or [BundlePart(sticks=sticks)]


def _label(
    session: Session, member: Member, collections: Sequence[CollectionRead], parts: Sequence[list[BundlePart]]
) -> list[LabelledCollection]:
    together = list(zip(collections, parts, strict=True))
    every = [part for _, bundles in together for part in bundles]
    hung = [Hung(part.code, part.id) for part in every if part.code]
    codes = bind_blanks_to_new(session, member, TagKind.BUNDLE, hung)
    bare = [part.id for part in every if part.id not in codes]
    codes |= bind_new_tags(session, member, TagKind.BUNDLE, bare)
    starts = [_start(collection, part, codes) for collection, bundles in together for part in bundles]
    made = {bundle.id: bundle for bundle in bundle_actions.start_bundles(session, member, starts)}
    return [
        LabelledCollection(collection=collection, bundles=[made[part.id] for part in bundles])
        for collection, bundles in together
    ]


def _start(collection: CollectionRead, part: BundlePart, codes: dict[UUID, str]) -> BundleStart:
    return BundleStart(
        id=part.id, collection_id=collection.id, sticks=part.sticks, code=codes[part.id], length_mm=part.length_mm,
        diameter_mm=part.diameter_mm, done_at=collection.done_at, unfinished=part.unfinished, note=part.note,
    )  # fmt: skip
