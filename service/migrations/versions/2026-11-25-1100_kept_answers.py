"""Kept answers."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_00_lib"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "kept_answer",
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("body", sa.String(), nullable=True),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("owner_id", "key", name=op.f("pk_kept_answer")),
    )


def downgrade() -> None:
    op.drop_table("kept_answer")
