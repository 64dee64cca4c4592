"""Builders of the bench: wood of several kinds in hand, and grafts of it."""

from __future__ import annotations

import atexit
from collections.abc import Iterable
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from shutil import copytree, rmtree
from tempfile import mkdtemp
from typing import Any
from uuid import UUID, uuid4

from sqlmodel import Session, select

from service.bundles.tables import Bundle
from service.collection.tables import Collection
from service.grafting import actions, schemas
from service.lib.database import Database
from service.lib.write import Writer
from service.trees.tables import SourceTree, Stop, TreeStop
from tests.builders.catalogue import REFERENCE, cultivar_id, load_catalogue, rootstock_id, taxon_id
from tests.builders.storage import LONG_AGO, Ground, Person, make_ground, run

APPLE, PEAR, QUINCE = (taxon_id(slug) for slug in ("malus-domestica", "pyrus-communis", "cydonia-oblonga"))
VARIETIES = (
    "malus-domestica--gala",
    "pyrus-communis--williams-bon-chretien",
    "pyrus-communis--beurre-hardy",
    "pyrus-communis--doyenne-du-comice",
)
GALA, WILLIAMS, HARDY, COMICE = map(cultivar_id, VARIETIES)
M9, QUINCE_A, BA29 = (rootstock_id(slug) for slug in ("m-9", "quince-a", "quince-ba-29"))


def make_bench(writer: Writer) -> Ground:
    """A club with the reference catalogue but few varieties, a Gala tree, and one cutting of it."""
    load_catalogue(writer, _few_varieties())
    return make_ground(writer, (APPLE, GALA))


@lru_cache
def _few_varieties() -> Path:
    """The reference files with just the varieties used here: their many spellings take most of the time to load."""
    folder = Path(mkdtemp(prefix="scion-few-varieties-"))
    atexit.register(rmtree, folder)
    copytree(REFERENCE, folder, dirs_exist_ok=True)
    for name in ("cultivars.csv", "cultivar_names.csv"):
        lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines(keepends=True)
        head = next(n for n, line in enumerate(lines) if not line.startswith("#"))
        kept = [line for line in lines[head + 1 :] if line.split(",", 1)[0] in VARIETIES]
        (folder / name).write_text("".join([*lines[: head + 1], *kept]), encoding="utf-8")
    return folder


def make_tree(writer: Writer, ground: Ground, taxon: UUID, cultivar: UUID | None, **given: Any) -> UUID:
    tree = SourceTree(
        **{
            "id": uuid4(), "number": 100 + uuid4().int % 10**6, "site_id": ground.site_id, "taxon_id": taxon, "cultivar_id": cultivar,
            "owner_id": ground.host.party_id, "may_cut": "yes", "created_at": LONG_AGO, "by_party_id": ground.host.party_id, **given,
        }
    )  # fmt: skip
    run(writer, _add, [tree])
    return tree.id


def make_wood(
    writer: Writer, ground: Ground, taxon: UUID, cultivar: UUID | None, sticks: int = 10, **given: Any
) -> UUID:
    """A bundle of a new cutting of a new tree; `given` are columns of the bundle, or `area_id` and `tree` of the cutting."""
    area_id, tree = given.pop("area_id", ground.area_id), given.pop("tree", None)
    tree_id = tree or make_tree(writer, ground, taxon, cultivar)
    cut = Collection(
        id=uuid4(), number=100 + uuid4().int % 10**6, kind="cut", tree_id=tree_id, taxon_id=taxon, cultivar_id=cultivar, area_id=area_id,
        cut_on=date(2026, 1, 10), done_at=datetime(2026, 1, 10, 12, tzinfo=UTC), recorded_at=LONG_AGO, by_party_id=ground.host.party_id,
        for_party_id=ground.host.party_id,
    )  # fmt: skip
    bundle = Bundle(
        id=uuid4(),
        collection_id=cut.id,
        **{"came_in": sticks, "sticks_at_start": sticks, "made_at": LONG_AGO, **given},
    )
    run(writer, _add, [cut])
    run(writer, _add, [bundle])
    return bundle.id


def graft(writer: Writer, member: Person, *entries: dict[str, Any]) -> list[schemas.GraftRead]:
    """Write grafts down: `graft(writer, host, {"woods": [{"bundle_id": …}], "rootstock_id": M9, "plants": 2})`."""
    return writer.write_now(
        actions.record_grafts, member, [schemas.GraftCreate(**entry) for entry in entries]
    )


def of(*bundle_ids: UUID, sticks: int = 1) -> list[dict[str, Any]]:
    """Scion wood for a graft."""
    return [{"bundle_id": bundle_id, "sticks": sticks} for bundle_id in bundle_ids]


def look(writer: Writer, member: Person, *entries: dict[str, Any]) -> list[schemas.TakeChecked]:
    return writer.write_now(
        actions.record_take_checks, member, [schemas.TakeCheckCreate(**entry) for entry in entries]
    )


def stop_tree(writer: Writer, ground: Ground, tree_id: UUID) -> UUID:
    """Bind a tree by a stop, as rows."""
    stop = make_stop(writer, ground)
    run(writer, _bind_tree, stop, tree_id)
    return stop


def make_stop(writer: Writer, ground: Ground) -> UUID:
    stop = Stop(
        id=uuid4(),
        reason="health",
        state="suspected",
        opened_at=LONG_AGO,
        by_party_id=ground.health_steward.party_id,
    )
    run(writer, _add, [stop])
    return stop.id


def rows(database: Database, table: Any) -> list[Any]:
    with database.reading() as session:
        return list(session.exec(select(table)).all())


def sticks_grafted(database: Database, bundle_id: UUID) -> int:
    with database.reading() as session:
        return session.exec(select(Bundle.grafted).where(Bundle.id == bundle_id)).one()


def _bind_tree(session: Session, stop_id: UUID, tree_id: UUID) -> None:
    tree = session.get(SourceTree, tree_id)
    assert tree is not None
    tree.open_stops += 1
    session.add(TreeStop(stop_id=stop_id, tree_id=tree_id, placed_at=LONG_AGO))


def _add(session: Session, rows: Iterable[Any]) -> None:
    session.add_all(rows)
    session.flush()
