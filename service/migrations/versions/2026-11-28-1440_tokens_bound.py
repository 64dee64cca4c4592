"""A token of a program may be bound to one logger, store or site."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1440_tokens_bound"
down_revision = "20261128_1420_air_hours"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("api_token", sa.Column("bound_kind", sa.String(length=24), nullable=True))
    op.add_column("api_token", sa.Column("bound_id", sa.Uuid(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("api_token") as table:
        table.drop_column("bound_id")
        table.drop_column("bound_kind")
