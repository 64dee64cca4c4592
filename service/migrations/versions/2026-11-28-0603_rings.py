"""Freezing and heat in stores, an event a row."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0603_rings"
down_revision = "20261128_0602_letters"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "store_ring",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("by_hand", sa.Boolean(), nullable=False),
        sa.Column("began_at", at, nullable=False),
        sa.Column("rang_at", at, nullable=False),
        sa.Column("last_at", at, nullable=False),
        sa.Column("ended_at", at, nullable=True),
        sa.Column("extreme_c", sa.Float(), nullable=False),
        sa.Column("hours", sa.Float(), nullable=False),
        sa.Column("recorded_at", at, nullable=False),
        sa.Column("told_at", at, nullable=True),
        sa.Column("withdrawn_at", at, nullable=True),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_store_ring_store_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_store_ring")),
    )
    op.create_index("ix_store_ring_store_began", "store_ring", ["store_id", "began_at"])
    op.create_index(op.f("ix_store_ring_recorded_at"), "store_ring", ["recorded_at"])


def downgrade() -> None:
    op.drop_table("store_ring")
