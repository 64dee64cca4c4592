"""What rows of wood and grafts rest on, written with the first row that is taken: areas, people, sites, places, boxes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Protocol
from uuid import UUID

from sqlmodel import Session

from service.lists.queries import Plan
from service.lists.rules import ThingKind
from service.members.actions import add_areas, add_parties
from service.members.rules import Member
from service.storage import actions as storage_actions
from service.trees.actions import add_sites

Made = tuple[str, UUID, int]


class Row(Protocol):
    @property
    def line(self) -> int: ...

    @property
    def needs(self) -> frozenset[UUID]: ...


class Needed:
    """What a list would make new on the way; of a row that is refused nothing is left."""

    def __init__(self, session: Session, member: Member, plan: Plan) -> None:
        self._session, self._member = session, member
        areas, people = {one.id: one for one in plan.areas}, {one.id: one for one in plan.people}
        sites = {one.id: one for one in plan.sites}
        self._all: dict[ThingKind, dict[UUID, Any]] = {
            ThingKind.AREA: areas, ThingKind.PARTY: people, ThingKind.SITE: sites,
            ThingKind.PLACE: dict(plan.places), ThingKind.BOX: dict(plan.boxes),
        }  # fmt: skip
        self.made: list[Made] = []

    def bring(self, rows: Sequence[Row]) -> list[Made]:
        """Write what these rows need and what was not written yet; `keep` it once the rows are sound."""
        lines: dict[UUID, int] = {}
        for row in rows:
            for one in row.needs:
                lines.setdefault(one, row.line)
        for one, line in list(lines.items()):
            if one in self._all[ThingKind.SITE]:
                lines.setdefault(self._all[ThingKind.SITE][one].area_id, line)
        made: list[Made] = []
        for kind, known in self._all.items():
            new = sorted((line, one) for one, line in lines.items() if one in known)
            if new:
                self._write(kind, [known[one] for _, one in new])
                made += [(kind, one, line) for line, one in new]
        return made

    def keep(self, made: Iterable[Made]) -> None:
        for kind, one, line in made:
            del self._all[ThingKind(kind)][one]
            self.made.append((kind, one, line))

    def _write(self, kind: ThingKind, bodies: list[Any]) -> None:
        session, member = self._session, self._member
        if kind is ThingKind.AREA:
            add_areas(session, member, bodies)
        elif kind is ThingKind.PARTY:
            add_parties(session, member, bodies)
        elif kind is ThingKind.SITE:
            add_sites(session, member, bodies)
        elif kind is ThingKind.PLACE:
            for place in bodies:
                storage_actions.add_place(session, member, place)
        else:
            for box in bodies:
                storage_actions.add_box(session, member, box)
