"""Looks at takes tell how many were lost to something that says nothing of the wood."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1001_lost_otherwise"
down_revision = "20261128_1000_learned_ageing"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("take_check") as batch_op:
        batch_op.add_column(sa.Column("other_cause", sa.Integer(), nullable=False, server_default="0"))
        batch_op.add_column(sa.Column("cause", sa.String(length=24), nullable=True))
    with op.batch_alter_table("take_check") as batch_op:
        batch_op.alter_column("other_cause", server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("take_check") as batch_op:
        batch_op.drop_column("cause")
        batch_op.drop_column("other_cause")
