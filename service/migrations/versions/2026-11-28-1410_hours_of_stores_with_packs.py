"""Stores in which a logger lay inside a pack have their hours put together anew: how damp it was in there stood as their air.

The days that stand are kept until then: without them wood would count as kept by nothing that was measured. What is put
together is held against them, and what differs is written in their place.
"""

from datetime import UTC, datetime
from uuid import uuid4

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1410_hours_with_packs"
down_revision = "20261128_1400_packing"
branch_labels = None
depends_on = None

_AT = service.lib.database.UtcInstant(timezone=True)
_move, _stay, _place, _record = (
    sa.table(name, *(sa.column(each, sa.Uuid()) for each in columns), sa.column("sensor", sa.String()))
    for name, columns in (
        ("logger_move", ("box_id", "place_id")),
        ("stay", ("box_id", "place_id")),
        ("place", ("id", "store_id")),
        ("store_record", ("store_id",)),
    )
)
_job = sa.table(
    "job", sa.column("id", sa.Uuid()), sa.column("kind", sa.String()), sa.column("what", sa.JSON()), sa.column("once", sa.String()),
    sa.column("made_at", _AT), sa.column("due_at", _AT), sa.column("tries", sa.Integer()), sa.column("last_error", sa.String()),
    sa.column("given_up_at", _AT),
)  # fmt: skip


def upgrade() -> None:
    connection, at = op.get_bind(), datetime.now(UTC)
    for store_id in connection.execute(_stores_with_packs()).scalars():
        once = f"doses:{store_id}"
        asked = connection.execute(
            sa.update(_job).where(_job.c.once == once).values(due_at=at, tries=0, given_up_at=None)
        )
        if not asked.rowcount:
            connection.execute(
                sa.insert(_job).values(
                    id=uuid4(), kind="doses", what={"store": str(store_id)}, once=once, made_at=at, due_at=at, tries=0, last_error=""
                )
            )  # fmt: skip


def _stores_with_packs() -> sa.Select[tuple[object]]:
    """Stores with hours in which such a logger ever lay, or in which a box ever stood that one ever lay in."""
    in_pack = _move.c.sensor == "pack"
    boxes = sa.select(_move.c.box_id).where(in_pack, _move.c.box_id.is_not(None))
    places = sa.union(
        sa.select(_move.c.place_id).where(in_pack, _move.c.place_id.is_not(None)),
        sa.select(_stay.c.place_id).where(_stay.c.box_id.in_(boxes), _stay.c.place_id.is_not(None)),
    )
    stores = sa.select(_place.c.store_id).where(_place.c.id.in_(places))
    return sa.select(_record.c.store_id).where(_record.c.store_id.in_(stores)).order_by(_record.c.store_id)


def downgrade() -> None:
    """What was put together anew stands: it follows from the readings alone."""
