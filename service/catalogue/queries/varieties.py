"""Varieties: facts of them, lists, one with all its spellings, and the search by any spelling."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Float as FloatType
from sqlalchemy import cast, func, select
from sqlmodel import Session, col

from service.catalogue import rules, schemas
from service.catalogue.queries.kinds import NoSuchEntry
from service.catalogue.rules import CultivarFacts
from service.catalogue.tables import Cultivar, CultivarName, NameTrigram, Taxon
from service.lib.clock import local_day
from service.lib.paging import Page, Paging, page_of
from service.members.queries import CLUB_ZONE

_CULTIVAR = (
    col(Cultivar.id), col(Cultivar.taxon_id), col(Cultivar.epithet), col(Cultivar.group_name), col(Cultivar.trade_designation),
    col(Cultivar.protection), col(Cultivar.protected_until), col(Cultivar.protection_checked_on), col(Cultivar.provisional),
    col(Taxon.botanical_name), col(Taxon.genus), col(Taxon.kind),
)  # fmt: skip
_PARTS = len(_CULTIVAR)


def _cultivars(*more: Any) -> Any:
    return select(*_CULTIVAR, *more).join(Taxon, col(Taxon.id) == col(Cultivar.taxon_id))


def _facts(row: Any) -> CultivarFacts:
    return CultivarFacts(*row[:_PARTS])


def facts_for_cultivars(session: Session, cultivar_ids: Iterable[UUID]) -> dict[UUID, CultivarFacts]:
    """Varieties with their kinds by id; one statement."""
    rows = session.execute(_cultivars().where(col(Cultivar.id).in_(list(cultivar_ids))))
    return {row.id: _facts(row) for row in rows}


def _summary(facts: CultivarFacts) -> dict[str, Any]:
    return {
        "id": facts.id, "taxon_id": facts.taxon_id, "kind": facts.kind, "epithet": facts.epithet,
        "trade_designation": facts.trade_designation, "page_name": facts.page_name, "name": schemas.written(facts),
        "protection": facts.protection, "provisional": facts.provisional,
    }  # fmt: skip


def list_cultivars(
    session: Session, paging: Paging, *, taxon_id: UUID | None = None, provisional: bool | None = None
) -> Page[schemas.CultivarSummary]:
    """Varieties by name; two statements."""
    statement = _cultivars()
    if taxon_id is not None:
        statement = statement.where(col(Cultivar.taxon_id) == taxon_id)
    if provisional is not None:
        statement = statement.where(col(Cultivar.provisional) == provisional)
    keys: list[tuple[Any, bool]] = [(col(Cultivar.epithet), False), (col(Cultivar.id), False)]
    return page_of(
        session, statement, keys, paging, lambda row: schemas.CultivarSummary(**_summary(_facts(row)))
    )


def get_cultivar(session: Session, cultivar_id: UUID, now: datetime) -> schemas.CultivarRead:
    """A variety with all its spellings, and what is to be said of its rights on the club's day; two statements."""
    row = session.execute(_cultivars(Cultivar, CLUB_ZONE).where(col(Cultivar.id) == cultivar_id)).first()
    if row is None:
        raise NoSuchEntry("There is no such variety in the catalogue.")
    names = session.execute(
        select(CultivarName)
        .where(col(CultivarName.cultivar_id) == cultivar_id)
        .order_by(col(CultivarName.name))
    ).scalars()
    return cultivar_read(_facts(row), row.Cultivar, names, local_day(now, row.zone or "UTC"))


def cultivar_read(
    facts: CultivarFacts, row: Cultivar, names: Iterable[CultivarName], today: date
) -> schemas.CultivarRead:
    """The answer for one variety, from rows at hand."""
    rights = schemas.ProtectionRead(
        protection=rules.Protection(row.protection), protected_until=row.protected_until, checked_on=row.protection_checked_on,
        checked_by_id=row.protection_checked_by_id, register_name=row.protection_register, note=row.protection_note,
        warning=schemas.warning_for(facts, today),
    )  # fmt: skip
    return schemas.CultivarRead(
        **_summary(facts), group_name=row.group_name, sport_of_id=row.sport_of_id, rights=rights,
        names=[schemas.SpellingRead.model_validate(name) for name in names], remarks=schemas.remarks_on(row.epithet),
        source=row.source, mark=row.mark, edited_by_club=row.edited_by_club, version=row.version,
    )  # fmt: skip


def find_cultivar(session: Session, taxon_id: UUID, name: str) -> CultivarFacts | None:
    """The variety of a kind that is spelled so, whatever the case and the accents; None where it is not just one."""
    statement = _cultivars().distinct().join(CultivarName, col(CultivarName.cultivar_id) == col(Cultivar.id))
    rows = session.execute(
        statement.where(
            col(Cultivar.taxon_id) == taxon_id, col(CultivarName.folded) == rules.fold_name(name)
        ).limit(2)
    ).all()
    return _facts(rows[0]) if len(rows) == 1 else None


def cultivars_spelled(session: Session, name: str, *, most: int = 6) -> list[CultivarFacts]:
    """Every variety of any kind that is spelled exactly so, whatever the case and the accents; one statement."""
    statement = _cultivars().distinct().join(CultivarName, col(CultivarName.cultivar_id) == col(Cultivar.id))
    rows = session.execute(
        statement.where(col(CultivarName.folded) == rules.fold_name(name))
        .order_by(col(Taxon.kind))
        .limit(most)
    )
    return [_facts(row) for row in rows]


SEARCHED = 80  # spellings looked at more closely; a variety has seldom more than six
LEAST_SCORE = 0.25  # less in common than this is chance


def search_cultivars(
    session: Session, typed: str, *, kind: str | None = None, taxon_id: UUID | None = None, limit: int = 10
) -> list[schemas.CultivarFound]:
    """Varieties by any spelling, without accents, with a typing mistake; the nearest first. One statement."""
    folded = rules.fold_name(typed)[: rules.spellings.LONGEST_TYPED].strip()
    trigrams = rules.trigrams_of(folded)
    if not trigrams:
        return []
    rows = session.execute(_nearest(trigrams, kind, taxon_id)).all()
    found: dict[UUID, tuple[float, Any]] = {}
    for row in rows:
        score = rules.score_name(folded, row.folded, row.shared, len(trigrams), row.trigrams)
        if score >= LEAST_SCORE and (row.id not in found or score > found[row.id][0]):
            found[row.id] = (score, row)
    best = sorted(found.values(), key=lambda pair: (-pair[0], pair[1].folded, pair[1].epithet))[:limit]
    return [
        schemas.CultivarFound(
            **_summary(_facts(row)), matched=row.spelling, matched_kind=row.name_kind, score=round(score, 3)
        )
        for score, row in best
    ]


def _nearest(trigrams: frozenset[str], kind: str | None, taxon_id: UUID | None) -> Any:
    shared = (
        select(col(NameTrigram.name_id).label("name_id"), func.count().label("shared"))
        .where(col(NameTrigram.trigram).in_(sorted(trigrams)))
        .group_by(col(NameTrigram.name_id))
        .subquery()
    )
    hits = cast(shared.c.shared, FloatType)
    near = rules.spellings.OF_TYPED * hits / len(trigrams)
    near += rules.spellings.OF_BOTH * 2 * hits / (col(CultivarName.trigrams) + len(trigrams))
    statement = (
        _cultivars(
            col(CultivarName.name).label("spelling"), col(CultivarName.kind).label("name_kind"), col(CultivarName.folded),
            col(CultivarName.trigrams), shared.c.shared,
        )
        .join(CultivarName, col(CultivarName.cultivar_id) == col(Cultivar.id))
        .join(shared, shared.c.name_id == col(CultivarName.id))
        .order_by(near.desc(), col(CultivarName.folded), col(CultivarName.id))
        .limit(SEARCHED)
    )  # fmt: skip
    if kind:
        statement = statement.where(col(Taxon.kind) == kind)
    return statement.where(col(Cultivar.taxon_id) == taxon_id) if taxon_id else statement
