"""Of wood that is to be used on the same day, what is worst by its last look stands first, then what keeps shortest."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1450_worst_first"
down_revision = "20261128_1440_tokens_bound"
branch_labels = None
depends_on = None

OLD, NEW = ["sort_on", "bundle_id"], ["sort_on", "sort_rank", "sort_end", "bundle_id"]


def upgrade() -> None:
    op.add_column("keeping", sa.Column("sort_rank", sa.Integer(), nullable=False, server_default="9"))
    op.add_column("keeping", sa.Column("sort_end", sa.Date(), nullable=False, server_default="9999-12-31"))
    op.execute("UPDATE keeping SET sort_end = sort_on")
    with op.batch_alter_table("keeping") as table:
        table.alter_column("sort_rank", existing_type=sa.Integer(), server_default=None)
        table.alter_column("sort_end", existing_type=sa.Date(), server_default=None)
    _index(NEW)


def downgrade() -> None:
    _index(OLD)
    with op.batch_alter_table("keeping") as table:
        table.drop_column("sort_end")
        table.drop_column("sort_rank")


def _index(columns: list[str]) -> None:
    for name, first in (("ix_keeping_store_sort", ["store_id"]), ("ix_keeping_sort", [])):
        op.drop_index(name, table_name="keeping")
        op.create_index(name, "keeping", [*first, *columns])
