"""Who opens the gate of a site."""

import sqlalchemy as sa
from alembic import op

revision = "20261127_18_gates"
down_revision = "20261127_18_looks_taken_back"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.add_column(sa.Column("gate", sa.String(length=300), nullable=False, server_default=""))


def downgrade() -> None:
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.drop_column("gate")
