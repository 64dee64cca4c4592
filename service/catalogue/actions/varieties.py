"""Naming a variety, adding a spelling, changing a name, noting a look into the register."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Protocol
from uuid import UUID

from sqlalchemy import or_, select, update
from sqlmodel import Session, col

from service.catalogue import queries, rules, schemas
from service.catalogue.actions.following import note_changed_cultivars
from service.catalogue.rules import NameKind
from service.catalogue.tables import Cultivar, CultivarName, NameTrigram
from service.lib.clock import local_day
from service.lib.database import new_id
from service.lib.errors import Stale, Unusable, check_version
from service.lib.write import Asking, insert_rows, recorded_at
from service.members.actions.versions import is_version
from service.members.queries import CLUB_ZONE
from service.members.rules import May

Told = tuple[UUID | None, str, NameKind, str]  # id, name, kind, source


class Naming(Asking, Protocol):
    """Who names, as far as the catalogue cares."""

    @property
    def party_id(self) -> UUID: ...
    @property
    def may(self) -> frozenset[May]: ...


def name_cultivar(session: Session, member: Naming, body: schemas.CultivarCreate) -> schemas.CultivarRead:
    """Enter a variety: for good by a steward, provisionally by whoever cuts."""
    rules.check_may_name(provisional=body.provisional, may_edit=May.CATALOGUE in member.may)
    if body.taxon_id not in queries.facts_for_kinds(session, [body.taxon_id]):
        raise Unusable("There is no such kind in the catalogue.", field="taxon_id")
    _check_new(session, body.taxon_id, body.epithet)
    row = Cultivar(
        id=body.id or new_id(), taxon_id=body.taxon_id, epithet=body.epithet, group_name=body.group_name,
        trade_designation=body.trade_designation, sport_of_id=body.sport_of_id, provisional=body.provisional, edited_by_club=True,
        by_party_id=member.party_id, source=body.source or "entered by the club", created_at=recorded_at(session), version=1,
    )  # fmt: skip
    session.add(row)
    session.flush()
    told: list[Told] = [(None, body.epithet, NameKind.EPITHET, "")]
    if body.trade_designation:
        told.append((None, body.trade_designation, NameKind.TRADE_DESIGNATION, ""))
    told += [(one.id, one.name, one.kind, one.source) for one in body.names]
    add_names(session, [name_row(row.id, *one, by=member.party_id) for one in _once(told)])
    return queries.get_cultivar(session, row.id, recorded_at(session))


def add_spelling(
    session: Session, member: Naming, cultivar_id: UUID, body: schemas.SpellingCreate
) -> schemas.SpellingRead:
    """Add a synonym or a donor's spelling, so that the variety is found by it."""
    known = (
        session.execute(select(CultivarName).where(col(CultivarName.cultivar_id) == cultivar_id))
        .scalars()
        .all()
    )
    if not known:
        raise queries.NoSuchEntry("There is no such variety in the catalogue.")
    if any(one.name == body.name for one in known):
        raise rules.AlreadySpelled(f"“{body.name}” is already a spelling of this variety.", field="name")
    row = name_row(cultivar_id, body.id, body.name, body.kind, body.source, by=member.party_id)
    add_names(session, [row])
    session.execute(
        update(Cultivar).where(col(Cultivar.id) == cultivar_id).values(version=col(Cultivar.version) + 1)
    )
    note_changed_cultivars(session, [cultivar_id])
    return schemas.SpellingRead(
        id=row["id"], name=row["name"], kind=body.kind, source=row["source"], mark=row["mark"]
    )


def change_cultivar(
    session: Session, member: Naming, cultivar_id: UUID, version: int, body: schemas.CultivarUpdate
) -> schemas.CultivarRead:
    """Correct a variety's name. The old name stays as a spelling, so that nobody loses sight of it."""
    row, _ = _row(session, cultivar_id, version)
    told = body.model_dump(exclude_unset=True)
    if any(
        told.get(name, "") is None for name in ("epithet", "group_name", "trade_designation", "provisional")
    ):
        raise Unusable("Only the variety it is a sport of can be emptied with null.", field="epithet")
    if told.get("sport_of_id") == cultivar_id:
        raise Unusable("A variety is no sport of itself.", field="sport_of_id")
    epithet = told.get("epithet", row.epithet)
    if epithet != row.epithet:
        _check_new(session, row.taxon_id, epithet, but=cultivar_id)
        _rename(session, cultivar_id, epithet, member.party_id)
    if told.get("trade_designation") and told["trade_designation"] != row.trade_designation:
        _ensure_name(
            session, cultivar_id, told["trade_designation"], NameKind.TRADE_DESIGNATION, member.party_id
        )
    _edit(session, cultivar_id, version, told)
    return queries.get_cultivar(session, cultivar_id, recorded_at(session))


def note_protection(
    session: Session, member: Naming, cultivar_id: UUID, version: int, body: schemas.ProtectionSet
) -> schemas.CultivarRead:
    """Record what a look into the register showed, who looked, and when."""
    now = recorded_at(session)
    _, zone = _row(session, cultivar_id, version)
    today = local_day(now, zone)
    checked_on = body.checked_on or today
    rules.check_protection(body.protection, body.protected_until, checked_on, today)
    values = {
        "protection": body.protection, "protected_until": body.protected_until, "protection_checked_on": checked_on,
        "protection_checked_by_id": member.acting_for_id, "protection_register": body.register_name, "protection_note": body.note,
    }  # fmt: skip
    _edit(session, cultivar_id, version, values)
    return queries.get_cultivar(session, cultivar_id, now)


# -- parts ---------------------------------------------------------------------------------------------------------


def name_row(
    cultivar_id: UUID,
    name_id: UUID | None,
    name: str,
    kind: NameKind,
    source: str = "",
    *,
    by: UUID | None = None,
    mark: str = "",
) -> dict[str, Any]:
    """One spelling, ready to be added."""
    folded = rules.fold_name(name)[:400]
    return {
        "id": name_id or new_id(), "cultivar_id": cultivar_id, "name": name, "kind": kind, "folded": folded,
        "trigrams": len(rules.trigrams_of(folded)), "by_party_id": by, "source": source, "mark": mark,
    }  # fmt: skip


def add_names(session: Session, rows: list[dict[str, Any]]) -> None:
    """Add spellings and their trigrams: two statements, whatever their number."""
    insert_rows(session, CultivarName, rows)
    insert_rows(session, NameTrigram, trigram_rows(rows))


def trigram_rows(names: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {"trigram": three, "name_id": name["id"]}
        for name in names
        for three in sorted(rules.trigrams_of(name["folded"]))
    ]


def _once(told: list[Told]) -> list[Told]:
    seen: dict[str, Told] = {}
    for one in told:
        seen.setdefault(one[1], one)
    return list(seen.values())


def _row(session: Session, cultivar_id: UUID, version: int) -> tuple[Cultivar, str]:
    """A variety, and the club's zone."""
    row = session.execute(select(Cultivar, CLUB_ZONE).where(col(Cultivar.id) == cultivar_id)).first()
    if row is None:
        raise queries.NoSuchEntry("There is no such variety in the catalogue.")
    check_version(row.Cultivar.version, version)
    return row.Cultivar, row.zone or "UTC"


def _edit(session: Session, cultivar_id: UUID, version: int, values: dict[str, Any]) -> None:
    done = session.execute(
        update(Cultivar)
        .where(col(Cultivar.id) == cultivar_id, is_version(Cultivar, version))
        .values(**values, version=col(Cultivar.version) + 1, edited_by_club=True)
        .returning(col(Cultivar.id))
    ).first()
    if done is None:
        raise Stale("Somebody changed this variety a moment ago.")
    session.expire_all()
    note_changed_cultivars(session, [cultivar_id])


def _check_new(session: Session, taxon_id: UUID, epithet: str, *, but: UUID | None = None) -> None:
    """The same epithet in another case or without its accents is the same name."""
    same = or_(
        col(Cultivar.epithet) == epithet, col(CultivarName.folded) == (rules.fold_name(epithet) or epithet)
    )
    found = session.execute(
        select(col(Cultivar.id), col(Cultivar.epithet))
        .join(CultivarName, col(CultivarName.cultivar_id) == col(Cultivar.id))
        .where(col(Cultivar.taxon_id) == taxon_id, col(CultivarName.kind) == NameKind.EPITHET, same)
    ).first()
    if found is not None and found.id != but:
        raise rules.AlreadySpelled(
            f"“{found.epithet}” stands in the catalogue.", field="epithet", cultivar_id=str(found.id)
        )


def _rename(session: Session, cultivar_id: UUID, epithet: str, by: UUID) -> None:
    own = col(CultivarName.cultivar_id) == cultivar_id
    session.execute(
        update(CultivarName)
        .where(own, col(CultivarName.kind) == NameKind.EPITHET)
        .values(kind=NameKind.SYNONYM)
    )
    _ensure_name(session, cultivar_id, epithet, NameKind.EPITHET, by)


def _ensure_name(session: Session, cultivar_id: UUID, name: str, kind: NameKind, by: UUID) -> None:
    own = (col(CultivarName.cultivar_id) == cultivar_id, col(CultivarName.name) == name)
    known = session.execute(
        update(CultivarName).where(*own).values(kind=kind).returning(col(CultivarName.id))
    ).first()
    if known is None:
        add_names(session, [name_row(cultivar_id, None, name, kind, by=by)])
