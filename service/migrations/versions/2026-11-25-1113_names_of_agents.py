"""Further names of diseases and pests."""

import sqlalchemy as sa
from alembic import op

revision = "20261125_13_names_of_agents"
down_revision = "20261125_12_grafts_taken_back"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("health_agent", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("other_names", sa.String(length=500), nullable=False, server_default="")
        )


def downgrade() -> None:
    with op.batch_alter_table("health_agent", schema=None) as batch_op:
        batch_op.drop_column("other_names")
