"""Limits of heat, frost and cold that a store has of its own."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1210_limits_of_stores"
down_revision = "20261128_1205_club_days"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "own_limits",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        *(
            sa.Column(name, sa.Float(), nullable=True)
            for name in ("heat_c", "heat_hours", "high_c", "high_hours", "freezing_c")
        ),
        sa.Column("freezing_minutes", sa.Integer(), nullable=True),
        sa.Column("cold_c", sa.Float(), nullable=True),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_own_limits_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_own_limits_for_party_id")),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_own_limits_store_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_own_limits")),
    )
    op.create_index(op.f("ix_own_limits_store_id"), "own_limits", ["store_id"])


def downgrade() -> None:
    op.drop_table("own_limits")
