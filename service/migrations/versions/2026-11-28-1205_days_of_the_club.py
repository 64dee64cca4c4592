"""The days a club's wood is kept for: its next exchange and its next grafting day."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1205_club_days"
down_revision = "20261128_1200_shortest_first"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("club") as table:
        table.add_column(sa.Column("exchange_on", sa.Date(), nullable=True))
        table.add_column(sa.Column("grafting_on", sa.Date(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("club") as table:
        table.drop_column("grafting_on")
        table.drop_column("exchange_on")
