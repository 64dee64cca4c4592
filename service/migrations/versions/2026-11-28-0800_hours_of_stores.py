"""The hours of stores that wood ages by, a day a row."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0800_store_hours"
down_revision = "20261128_0700_list_headings"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "store_day",
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("measured", sa.Integer(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_store_day_store_id")),
        sa.PrimaryKeyConstraint("store_id", "day", name=op.f("pk_store_day")),
    )
    op.create_table(
        "store_record",
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("renewed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_store_record_store_id")),
        sa.PrimaryKeyConstraint("store_id", name=op.f("pk_store_record")),
    )


def downgrade() -> None:
    op.drop_table("store_record")
    op.drop_table("store_day")
