"""How each bundle in store is reckoned to keep."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0801_keeping"
down_revision = "20261128_0800_store_hours"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "keeping",
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=True),
        sa.Column("sort_on", sa.Date(), nullable=True),
        sa.Column("as_of", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("told", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_keeping_bundle_id")),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_keeping_store_id")),
        sa.PrimaryKeyConstraint("bundle_id", name=op.f("pk_keeping")),
    )
    op.create_index("ix_keeping_store_sort", "keeping", ["store_id", "sort_on"])


def downgrade() -> None:
    op.drop_table("keeping")
