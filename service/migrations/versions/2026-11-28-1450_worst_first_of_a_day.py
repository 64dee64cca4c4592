"""Of wood that is to be used on the same day, what is worst by its last look stands first, then what keeps shortest.

How bad a look was stands in no column yet: all wood in store is reckoned anew at once, by the program as it is after the last
migration, and not by the next day's round.
"""

from datetime import UTC, datetime
from uuid import uuid4

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1450_worst_first"
down_revision = "20261128_1440_tokens_bound"
branch_labels = None
depends_on = None

_AT = service.lib.database.UtcInstant(timezone=True)
_keeping = sa.table("keeping", sa.column("store_id", sa.Uuid()))
_job = sa.table(
    "job", sa.column("id", sa.Uuid()), sa.column("kind", sa.String()), sa.column("what", sa.JSON()), sa.column("once", sa.String()),
    sa.column("made_at", _AT), sa.column("due_at", _AT), sa.column("tries", sa.Integer()), sa.column("last_error", sa.String()),
    sa.column("given_up_at", _AT),
)  # fmt: skip
OLD, NEW = ["sort_on", "bundle_id"], ["sort_on", "sort_rank", "sort_end", "bundle_id"]


def upgrade() -> None:
    op.add_column("keeping", sa.Column("sort_rank", sa.Integer(), nullable=False, server_default="9"))
    op.add_column("keeping", sa.Column("sort_end", sa.Date(), nullable=False, server_default="9999-12-31"))
    op.execute("UPDATE keeping SET sort_end = sort_on")
    with op.batch_alter_table("keeping") as table:
        table.alter_column("sort_rank", existing_type=sa.Integer(), server_default=None)
        table.alter_column("sort_end", existing_type=sa.Date(), server_default=None)
    _index(NEW)
    _reckon_anew()


def _reckon_anew() -> None:
    connection, at = op.get_bind(), datetime.now(UTC)
    stores = sa.select(_keeping.c.store_id).where(_keeping.c.store_id.is_not(None)).distinct()
    for store_id in sorted(connection.execute(stores).scalars()):
        once = f"keeping:{store_id}"
        asked = connection.execute(
            sa.update(_job).where(_job.c.once == once).values(due_at=at, tries=0, given_up_at=None)
        )
        if not asked.rowcount:
            connection.execute(
                sa.insert(_job).values(
                    id=uuid4(), kind="keeping", what={"store": str(store_id)}, once=once, made_at=at, due_at=at, tries=0, last_error=""
                )
            )  # fmt: skip


def downgrade() -> None:
    _index(OLD)
    with op.batch_alter_table("keeping") as table:
        table.drop_column("sort_end")
        table.drop_column("sort_rank")


def _index(columns: list[str]) -> None:
    for name, first in (("ix_keeping_store_sort", ["store_id"]), ("ix_keeping_sort", [])):
        op.drop_index(name, table_name="keeping")
        op.create_index(name, "keeping", [*first, *columns])
