"""What a store is said to have: the temperature its dial is set to, or that its host tells, through time."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1725_nominal_temps"
down_revision = "20261128_1720_warm_limits"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "nominal_temp",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("temp_c", sa.Float(), nullable=True),
        sa.Column("from_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_nominal_temp_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_nominal_temp_for_party_id")),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_nominal_temp_store_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_nominal_temp")),
    )
    op.create_index(op.f("ix_nominal_temp_store_id"), "nominal_temp", ["store_id"])


def downgrade() -> None:
    op.drop_table("nominal_temp")
