"""How cold and how long wood of a group of species is kept."""

import sqlalchemy as sa
from alembic import op

revision = "20261127_1600_storage_limits"
down_revision = "20261127_00_names_of_receipts"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "storage_limit",
        sa.Column("species_group", sa.String(length=40), nullable=False),
        sa.Column("wood", sa.String(length=24), nullable=False),
        sa.Column("examples", sa.String(length=200), nullable=False),
        sa.Column("store_temp_min_c", sa.Float(), nullable=False),
        sa.Column("store_temp_max_c", sa.Float(), nullable=False),
        sa.Column("store_temp_mark", sa.String(length=60), nullable=False),
        sa.Column("store_temp_source", sa.String(length=500), nullable=False),
        sa.Column("humidity_rh_min_pct", sa.Integer(), nullable=False),
        sa.Column("humidity_mark", sa.String(length=60), nullable=False),
        sa.Column("packing", sa.String(length=200), nullable=False),
        sa.Column("keep_weeks_min", sa.Integer(), nullable=False),
        sa.Column("keep_weeks_max", sa.Integer(), nullable=False),
        sa.Column("keep_conditions", sa.String(length=100), nullable=False),
        sa.Column("keep_mark", sa.String(length=60), nullable=False),
        sa.Column("keep_source", sa.String(length=500), nullable=False),
        sa.Column("freeze_kill10_c", sa.Float(), nullable=False),
        sa.Column("freeze_stage", sa.String(length=60), nullable=False),
        sa.Column("freeze_mark", sa.String(length=60), nullable=False),
        sa.Column("freeze_source", sa.String(length=500), nullable=False),
        sa.Column("ethylene", sa.String(length=300), nullable=False),
        sa.PrimaryKeyConstraint("species_group", name=op.f("pk_storage_limit")),
    )


def downgrade() -> None:
    op.drop_table("storage_limit")
