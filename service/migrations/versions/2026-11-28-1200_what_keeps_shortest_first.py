"""What keeps shortest is found in the order of an index, in one store and in all; what has no day comes last by a late one."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1200_shortest_first"
down_revision = "20261128_1100_calendar_address"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("UPDATE keeping SET sort_on = '9999-12-31' WHERE sort_on IS NULL")
    op.drop_index("ix_keeping_store_sort", table_name="keeping")
    with op.batch_alter_table("keeping") as table:
        table.alter_column("sort_on", existing_type=sa.Date(), nullable=False)
    op.create_index("ix_keeping_store_sort", "keeping", ["store_id", "sort_on", "bundle_id"])
    op.create_index("ix_keeping_sort", "keeping", ["sort_on", "bundle_id"])


def downgrade() -> None:
    op.drop_index("ix_keeping_sort", table_name="keeping")
    op.drop_index("ix_keeping_store_sort", table_name="keeping")
    with op.batch_alter_table("keeping") as table:
        table.alter_column("sort_on", existing_type=sa.Date(), nullable=True)
    op.execute("UPDATE keeping SET sort_on = NULL WHERE sort_on = '9999-12-31'")
    op.create_index("ix_keeping_store_sort", "keeping", ["store_id", "sort_on"])
