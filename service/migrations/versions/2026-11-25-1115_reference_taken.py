"""Which reference files a database has."""

import sqlalchemy as sa
from alembic import op

revision = "20261125_15_reference_taken"
down_revision = "20261125_14_bundles_by_holder"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reference_taken",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_reference_taken_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reference_taken")),
    )


def downgrade() -> None:
    op.drop_table("reference_taken")
