"""Forecasts as they stood when wood was handed over or grafted, and whether they came true."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1002_forecasts_kept"
down_revision = "20261128_1001_lost_otherwise"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "forecast_kept",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("move_seq", sa.Integer(), nullable=True),
        sa.Column("why", sa.String(length=24), nullable=False),
        sa.Column("as_of", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("share", sa.Float(), nullable=True),
        sa.Column("low", sa.Float(), nullable=True),
        sa.Column("high", sa.Float(), nullable=True),
        sa.Column("hazard", sa.String(length=24), nullable=False),
        sa.Column("doses", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("keeps_until", sa.Date(), nullable=True),
        sa.Column("ageing_version", sa.Integer(), nullable=True),
        sa.Column("numbers_digest", sa.String(length=64), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_forecast_kept_bundle_id")),
        sa.ForeignKeyConstraint(["move_seq"], ["stick_move.seq"], name=op.f("fk_forecast_kept_move_seq")),
        sa.ForeignKeyConstraint(
            ["ageing_version"], ["ageing_version.version"], name=op.f("fk_forecast_kept_ageing_version")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast_kept")),
        sa.UniqueConstraint("move_seq", name=op.f("uq_forecast_kept_move_seq")),
    )
    op.create_index("ix_forecast_kept_bundle_as_of", "forecast_kept", ["bundle_id", "as_of"])
    with op.batch_alter_table("keeping") as batch_op:
        batch_op.add_column(sa.Column("share_step", sa.Integer(), nullable=True))
    with op.batch_alter_table("ageing_version") as batch_op:
        batch_op.add_column(sa.Column("came_true", sa.JSON(none_as_null=True), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("ageing_version") as batch_op:
        batch_op.drop_column("came_true")
    with op.batch_alter_table("keeping") as batch_op:
        batch_op.drop_column("share_step")
    op.drop_table("forecast_kept")
