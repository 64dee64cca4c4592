"""Taking over the reference files: checked whole, then added or renewed by the row's own name.

A row keeps its id for ever, made from its slug, so a file read anew finds it again. A variety the club has edited is
left as the club wrote it, and a spelling the club added is never taken away.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

from sqlalchemy import select, update
from sqlmodel import Session, SQLModel, col

from service.catalogue import rules
from service.catalogue.actions.varieties import add_names, name_row
from service.catalogue.rules import NameKind, ReferenceFileWrong, ReferenceSet
from service.catalogue.rules.reference import GRAMMAR, Row
from service.catalogue.tables import (
    Cultivar,
    CultivarName,
    GraftingMethod,
    GrowthStage,
    HealthAgent,
    Join,
    ReferenceTaken,
    Rootstock,
    StorageLimit,
    Taxon,
)
from service.lib.write import insert_rows, recorded_at
from service.members.actions import note_everything_changed

STAGE = Path(__file__).parents[1]
OWN_NAMES = UUID("6d5b2f0e-7f1c-5f43-9a52-5b0b7c1d0a11")
Values = dict[str, Any]


@dataclass
class LoadReport:
    """How many rows of each table were added and renewed."""

    added: dict[str, int] = field(default_factory=dict)
    renewed: dict[str, int] = field(default_factory=dict)

    @property
    def changed(self) -> int:
        return sum(self.added.values()) + sum(self.renewed.values())


def reference_id(kind: str, slug: str) -> UUID:
    """The id of a reference row: the same in every club."""
    return uuid5(OWN_NAMES, f"{kind}:{slug}")


def read_folder(folder: Path) -> ReferenceSet:
    """Read and check all files of a folder. Raises `ReferenceFileWrong`."""
    texts: dict[str, str] = {}
    for name in GRAMMAR:
        path = folder / name
        if not path.is_file():
            raise ReferenceFileWrong(f"{name} is missing in {folder.name}.", file=name)
        try:
            texts[name] = path.read_bytes().decode("utf-8")
        except UnicodeDecodeError as error:
            line = path.read_bytes()[: error.start].count(b"\n") + 1
            raise ReferenceFileWrong(f"{name} line {line}, is not UTF-8.", file=name, line=line) from error
    return rules.read_reference(texts)


def digest_of_reference(folder: Path) -> str:
    """What the catalogue is made from: the files of a folder, and the code that reads them."""
    made = hashlib.sha256()
    for path in (*sorted(folder.glob("*")), *sorted(STAGE.rglob("*.py"))):
        if path.is_file():
            made.update(path.name.encode() + path.read_bytes())
    return made.hexdigest()


def load_reference(session: Session, folder: Path) -> LoadReport:
    """Take the reference files over; doing it twice changes nothing the second time."""
    digest = digest_of_reference(folder)
    files = read_folder(folder)
    report = LoadReport()
    _renew(session, report, Taxon, "id", [_taxon(row) for row in files["taxa.csv"]])
    _renew(session, report, Rootstock, "id", [_rootstock(row) for row in files["rootstocks.csv"]])
    _load_cultivars(session, report, files)
    _load_names(session, report, files)
    _renew(
        session,
        report,
        GrowthStage,
        ("scale", "code"),
        [_plain(row, "place") for row in files["growth_stages.csv"]],
    )
    _renew(session, report, GraftingMethod, "slug", [_method(row) for row in files["methods.csv"]])
    _renew(session, report, HealthAgent, "slug", [_plain(row) for row in files["agents.csv"]])
    _renew(session, report, Join, "place", [_join(row) for row in files["compatibility.csv"]])
    _renew(
        session, report, StorageLimit, "species_group", [_limit(row) for row in files["storage_limits.csv"]]
    )
    session.merge(ReferenceTaken(sha256=digest))
    session.flush()
    if report.changed:  # answers tell names, rights, and what a wood may be joined to
        note_everything_changed(session)
    return report


def _plain(row: Row, *numbers: str) -> Values:
    return {name: int(value) if name in numbers else value for name, value in row.items() if name != "line"}


def _taxon(row: Row) -> Values:
    return {"id": reference_id("taxon", row["slug"]), **_plain(row)}


def _rootstock(row: Row) -> Values:
    values = _plain(row)
    return {
        "id": reference_id("rootstock", values.pop("slug")),
        "taxon_id": reference_id("taxon", values.pop("taxon")),
        **values,
    }


_METHOD_COLUMNS = set(GraftingMethod.model_fields)


def _method(row: Row) -> Values:
    weeks = ("first_look_weeks", "verdict_weeks_from", "verdict_weeks_to")
    values = {name: value for name, value in row.items() if name in _METHOD_COLUMNS}
    return {**values, **{name: int(row[name]) if row[name] else None for name in weeks}}


def _limit(row: Row) -> Values:
    values = _plain(row, "humidity_rh_min_pct", "keep_weeks_min", "keep_weeks_max")
    degrees = {name: float(value) for name, value in values.items() if name.endswith("_c")}
    return values | degrees


def _join(row: Row) -> Values:
    return {"id": reference_id("join", row["place"]), **_plain(row, "place")}


def _renew(
    session: Session,
    report: LoadReport,
    table: type[SQLModel],
    key: str | tuple[str, ...],
    rows: list[Values],
) -> None:
    """Add what is new, renew what differs: one SELECT, one INSERT, and one UPDATE for every row that differs."""
    keys = (key,) if isinstance(key, str) else key
    stand = {
        tuple(getattr(one, name) for name in keys): one for one in session.execute(select(table)).scalars()
    }
    fresh: list[Values] = []
    renewed = 0
    for values in rows:
        one = stand.get(tuple(values[name] for name in keys))
        if one is None:
            fresh.append(values)
            continue
        differing = {
            name: value for name, value in values.items() if name != "id" and getattr(one, name) != value
        }
        for name, value in differing.items():
            setattr(one, name, value)
        renewed += bool(differing)
    session.flush()
    insert_rows(session, table, fresh)
    report.added[str(table.__tablename__)] = len(fresh)
    report.renewed[str(table.__tablename__)] = renewed


# -- varieties: the club may have been there first ---------------------------------------------------------------------


def _cultivar(row: Row, known: Callable[[str], UUID]) -> Values:
    return {
        "id": known(row["slug"]), "taxon_id": reference_id("taxon", row["taxon"]), "epithet": row["epithet"],
        "group_name": row["group"], "trade_designation": row["trade_designation"],
        "sport_of_id": known(row["sport_of"]) if row["sport_of"] else None, "protection": row["protection"],
        "protected_until": date.fromisoformat(row["protected_until"]) if row["protected_until"] else None,
        "protection_note": row["protection_note"], "source": row["source"], "mark": row["mark"],
    }  # fmt: skip


def _load_cultivars(session: Session, report: LoadReport, files: ReferenceSet) -> None:
    standing = list(session.execute(select(Cultivar)).scalars())
    by_id = {one.id: one for one in standing}
    known = _ids(files, by_id, standing)
    fresh: list[Values] = []
    renewed = 0
    for row in _parents_first(files["cultivars.csv"]):
        values = _cultivar(row, known.__getitem__)
        one = by_id.get(values["id"])
        if one is None:
            fresh.append({**values, "created_at": recorded_at(session)})
        elif not one.edited_by_club:
            renewed += _renew_cultivar(session, one, values)
    parents = [values for values in fresh if values["sport_of_id"] is None]
    insert_rows(session, Cultivar, parents)
    insert_rows(session, Cultivar, [values for values in fresh if values["sport_of_id"] is not None])
    report.added["cultivar"], report.renewed["cultivar"] = len(fresh), renewed


def _renew_cultivar(session: Session, one: Cultivar, values: Values) -> bool:
    differing = {name: value for name, value in values.items() if getattr(one, name) != value}
    if differing:
        session.execute(
            update(Cultivar).where(col(Cultivar.id) == one.id).values(**differing, version=one.version + 1)
        )
    return bool(differing)


def _ids(files: ReferenceSet, by_id: dict[UUID, Cultivar], standing: list[Cultivar]) -> dict[str, UUID]:
    """Which row each slug is: its own, or the one the club had entered under the same name before."""
    by_name = {(one.taxon_id, rules.fold_name(one.epithet)): one.id for one in standing}
    ids: dict[str, UUID] = {}
    for row in files["cultivars.csv"]:
        own = reference_id("cultivar", row["slug"])
        same = by_name.get((reference_id("taxon", row["taxon"]), rules.fold_name(row["epithet"])))
        ids[row["slug"]] = own if own in by_id or same is None else same
    return ids


def _parents_first(rows: Iterable[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: bool(row["sport_of"]))


def _load_names(session: Session, report: LoadReport, files: ReferenceSet) -> None:
    standing = list(session.execute(select(Cultivar)).scalars())
    known = _ids(files, {one.id: one for one in standing}, standing)
    stand = {(one.cultivar_id, one.name): one for one in session.execute(select(CultivarName)).scalars()}
    edited = {one.id for one in standing if one.edited_by_club}
    fresh: list[Values] = []
    renewed = 0
    for cultivar_id, name, kind, source, mark in _told_names(files, known):
        one = stand.get((cultivar_id, name))
        if one is None and not (cultivar_id in edited and kind is NameKind.EPITHET):
            name_id = reference_id("name", f"{cultivar_id}:{name}")
            fresh.append(name_row(cultivar_id, name_id, name, kind, source, mark=mark))
        elif (
            one is not None
            and cultivar_id not in edited
            and (one.kind, one.source, one.mark) != (kind, source, mark)
        ):
            one.kind, one.source, one.mark = kind, source, mark
            renewed += 1
    session.flush()
    add_names(session, fresh)
    report.added["cultivar_name"], report.renewed["cultivar_name"] = len(fresh), renewed


def _told_names(files: ReferenceSet, known: dict[str, UUID]) -> list[tuple[UUID, str, NameKind, str, str]]:
    told: dict[tuple[UUID, str], tuple[UUID, str, NameKind, str, str]] = {}
    for row in files["cultivars.csv"]:
        cultivar_id = known[row["slug"]]
        told[cultivar_id, row["epithet"]] = (
            cultivar_id,
            row["epithet"],
            NameKind.EPITHET,
            row["source"],
            row["mark"],
        )
    for row in files["cultivar_names.csv"]:
        cultivar_id = known[row["cultivar"]]
        one = (cultivar_id, row["name"], NameKind(row["kind"]), row["source"], row["mark"])
        told.setdefault((cultivar_id, row["name"]), one)
    return list(told.values())
