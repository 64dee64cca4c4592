"""The temperature that a frost rang by, so that it stands when the wood that it was told of leaves."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_0900_limit_it_rang_by"
down_revision = "20261128_0801_keeping"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("store_ring") as table:
        table.add_column(sa.Column("limit_c", sa.Float(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("store_ring") as table:
        table.drop_column("limit_c")
