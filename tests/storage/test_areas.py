"""Wood put away in another plant-health area than it grew in is warned of, unless the authority said yes."""

from __future__ import annotations

from datetime import date
from uuid import UUID, uuid4

from sqlmodel import Session, update

from service.lib.write import Writer
from service.members.tables import Area, AreaPermit, Party
from tests.builders.storage import LONG_AGO, Ground, make_box, make_bundles, make_ground, make_store, put, run
from tests.infra.statements import Statements


def move_host(session: Session, ground: Ground, area: Area) -> None:
    session.add(area)
    session.flush()
    session.execute(update(Party).where(Party.id == ground.host.party_id).values(area_id=area.id))


def allow(session: Session, ground: Ground, area_id: object) -> None:
    session.add(
        AreaPermit(
            id=uuid4(), from_area_id=ground.area_id, to_area_id=area_id, reference="HV 9/26", allows=True, genus="",
            answered_on=date(2026, 1, 2), recorded_at=LONG_AGO, by_party_id=ground.host.party_id,
        )
    )  # fmt: skip


def test_a_store_in_another_area_is_named_until_the_authority_said_yes(writer: Writer) -> None:
    ground = make_ground(writer)
    store = make_store(writer, ground)
    box = make_box(writer, ground)
    one, other, third = make_bundles(writer, ground, 3)

    near = put(writer, ground.host, {"bundle_id": one, "store_id": store.id})[0]
    far_area = Area(id=uuid4(), name="South valley")
    far_id = far_area.id
    run(writer, move_host, ground, far_area)
    far = put(writer, ground.host, {"bundle_id": other, "store_id": store.id})[0]
    boxed = put(writer, ground.host, {"bundle_id": third, "into_box_id": box.id})[0]
    carried = put(writer, ground.host, {"box_id": box.id, "store_id": store.id})[0]
    run(writer, allow, ground, far_id)
    allowed = put(writer, ground.host, {"bundle_id": one, "store_id": store.id})[0]

    assert [each.warnings for each in (near, boxed, allowed)] == [[], [], []]
    assert [len(each.warnings) for each in (far, carried)] == [1, 1]
    assert "grew in North valley" in far.warnings[0]
    assert "somebody in South valley" in carried.warnings[0]


def test_forty_bundles_cost_the_statements_of_one(writer: Writer, statements: Statements) -> None:
    ground = make_ground(writer)
    store = make_store(writer, ground)
    run(writer, move_host, ground, Area(id=uuid4(), name="South valley"))
    first, *many = make_bundles(writer, ground, 41)

    def put_all(bundles: list[UUID]) -> int:
        before = len(statements)
        moved = put(writer, ground.host, *({"bundle_id": one, "store_id": store.id} for one in bundles))
        assert [len(each.warnings) for each in moved] == [1] * len(bundles)
        return len(statements) - before

    assert put_all(many) <= put_all([first])
