"""Cuts that wait for what was left out, found without reading all of them."""

import sqlalchemy as sa
from alembic import op

revision = "20261125_16_cuts_to_finish"
down_revision = "20261125_15_reference_taken"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(
        "ix_collection_to_finish", "collection", ["number"], unique=False,
        sqlite_where=sa.text("unfinished IS 1"), postgresql_where=sa.text("unfinished IS true"),
    )  # fmt: skip


def downgrade() -> None:
    op.drop_index("ix_collection_to_finish", table_name="collection")
