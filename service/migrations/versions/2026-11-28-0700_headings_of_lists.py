"""The headings of a list, so that the next of the same headings is read as it was."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_0700_list_headings"
down_revision = "20261128_0603_rings"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("list_file") as table:
        table.add_column(sa.Column("header", sa.JSON(none_as_null=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("list_file") as table:
        table.drop_column("header")
