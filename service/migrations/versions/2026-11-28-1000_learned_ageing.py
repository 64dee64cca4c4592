"""What takes say of how fast wood ages here, version by version."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1000_learned_ageing"
down_revision = "20261128_0930_air_files"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "ageing_version",
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("numbers_digest", sa.String(length=64), nullable=False),
        sa.Column("grafts", sa.Integer(), nullable=False),
        sa.Column("taken", sa.Integer(), nullable=False),
        sa.Column("start_mu", sa.Float(), nullable=False),
        sa.Column("left_out", sa.JSON(none_as_null=True), nullable=False),
        sa.PrimaryKeyConstraint("version", name=op.f("pk_ageing_version")),
    )
    op.create_table(
        "ageing_learned",
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("species_group", sa.String(length=40), nullable=False),
        sa.Column("before_mu", sa.Float(), nullable=False),
        sa.Column("before_sigma", sa.Float(), nullable=False),
        sa.Column("mu", sa.Float(), nullable=False),
        sa.Column("sigma", sa.Float(), nullable=False),
        sa.Column("median", sa.Float(), nullable=False),
        sa.Column("low", sa.Float(), nullable=False),
        sa.Column("high", sa.Float(), nullable=False),
        sa.Column("grafts", sa.Integer(), nullable=False),
        sa.Column("taken", sa.Integer(), nullable=False),
        sa.Column("kept_days_before", sa.Integer(), nullable=True),
        sa.Column("kept_days", sa.Integer(), nullable=True),
        sa.Column("is_told_apart", sa.Boolean(), nullable=False),
        sa.Column("by_method", sa.JSON(none_as_null=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["version"], ["ageing_version.version"], name=op.f("fk_ageing_learned_version")
        ),
        sa.PrimaryKeyConstraint("version", "species_group", name=op.f("pk_ageing_learned")),
    )
    op.create_table(
        "numbers_used",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("numbers", sa.JSON(none_as_null=True), nullable=False),
        sa.Column("first_used_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_numbers_used")),
    )


def downgrade() -> None:
    op.drop_table("numbers_used")
    op.drop_table("ageing_learned")
    op.drop_table("ageing_version")
