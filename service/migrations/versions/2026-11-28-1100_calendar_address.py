"""Addresses under which people's calendars read their dates."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1100_calendar_address"
down_revision = "20261128_1002_forecasts_kept"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "calendar_address",
        sa.Column("account_id", sa.Uuid(), nullable=False),
        sa.Column("secret_sha256", sa.String(length=64), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_calendar_address_account_id")),
        sa.PrimaryKeyConstraint("account_id", name=op.f("pk_calendar_address")),
        sa.UniqueConstraint("secret_sha256", name=op.f("uq_calendar_address_secret_sha256")),
    )


def downgrade() -> None:
    op.drop_table("calendar_address")
