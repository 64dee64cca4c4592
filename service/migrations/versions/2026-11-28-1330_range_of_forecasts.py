"""The early and the late end of how long a kept forecast told wood to keep."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1330_forecast_range"
down_revision = "20261128_1300_blank_rolls"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for name in ("keeps_from", "keeps_to"):
        op.add_column("forecast_kept", sa.Column(name, sa.Date(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("forecast_kept") as table:
        for name in ("keeps_to", "keeps_from"):
            table.drop_column(name)
