"""A limit of warmth that a store has of its own, which is told and rings nobody."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1720_warm_limits"
down_revision = "20261128_1710_own_sheets"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for name in ("warm_c", "warm_hours"):
        op.add_column("own_limits", sa.Column(name, sa.Float(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("own_limits") as table:
        for name in ("warm_hours", "warm_c"):
            table.drop_column(name)
