"""Sites and the looks at trees."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from sqlalchemy import func, select
from sqlmodel import Session, col

from service.lib.errors import NotFound
from service.lib.paging import Page, Paging, page_of
from service.members.tables import Area
from service.trees.rules import CheckKind
from service.trees.rules.seeing import site_warnings
from service.trees.schemas import SiteRead, TreeCheckRead
from service.trees.tables import Site, SourceTree, TreeCheck


class NoSuchSite(NotFound):
    title = "There is no such site"


def lock_site(session: Session, site_id: UUID) -> None:
    """What is written of a site's air waits for what is being written; one statement."""
    session.execute(select(col(Site.id)).where(col(Site.id) == site_id).with_for_update())


def _sites() -> Any:
    trees = (
        select(func.count()).where(col(SourceTree.site_id) == col(Site.id)).correlate(Site).scalar_subquery()
    )
    return select(
        col(Site.id), col(Site.name), col(Site.region), col(Site.directions), col(Site.gate), col(Site.latitude), col(Site.longitude),
        col(Site.area_id), col(Area.name).label("area_name"), col(Site.area_checked_on), col(Site.note), col(Site.version),
        trees.label("trees"),
    ).join(Area, col(Area.id) == col(Site.area_id))  # fmt: skip


def _read(row: Any, *, exact: bool) -> SiteRead:
    told = dict(row._mapping)  # noqa: SLF001
    if not exact:
        told.update(directions="", gate="", latitude=None, longitude=None, note="")
    return SiteRead.model_validate({**told, "warnings": site_warnings(told["latitude"]) if exact else []})


def get_site(session: Session, site_id: UUID, *, exact: bool = True) -> SiteRead:
    row = session.execute(_sites().where(col(Site.id) == site_id)).first()
    if row is None:
        raise NoSuchSite("There is no site with this id.", id=str(site_id))
    return _read(row, exact=exact)


def list_sites(
    session: Session, paging: Paging, *, exact: bool = True, area_id: UUID | None = None
) -> Page[SiteRead]:
    """Sites by name; two statements."""
    statement = _sites()
    if area_id is not None:
        statement = statement.where(col(Site.area_id) == area_id)
    keys: list[tuple[Any, bool]] = [(col(Site.name), False), (col(Site.id), False)]
    return page_of(session, statement, keys, paging, lambda row: _read(row, exact=exact))


def sites_by_id(session: Session, site_ids: Iterable[UUID]) -> list[SiteRead]:
    """Sites that stand; one statement."""
    rows = session.execute(_sites().where(col(Site.id).in_(set(site_ids))))
    return [_read(row, exact=True) for row in rows]


def list_tree_checks(
    session: Session, paging: Paging, tree_id: UUID, *, kind: CheckKind | None = None
) -> Page[TreeCheckRead]:
    """Looks at a tree, the newest first; two statements."""
    statement: Any = select(*TreeCheck.__table__.columns).where(col(TreeCheck.tree_id) == tree_id)  # type: ignore[attr-defined]
    if kind is not None:
        statement = statement.where(col(TreeCheck.kind) == kind.value)
    keys: list[tuple[Any, bool]] = [(col(TreeCheck.recorded_at), True), (col(TreeCheck.id), False)]
    return page_of(session, statement, keys, paging, TreeCheckRead.model_validate)
