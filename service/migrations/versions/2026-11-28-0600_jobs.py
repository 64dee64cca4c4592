"""Background work."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0600_jobs"
down_revision = "20261128_0500_lists_taken_back"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "job",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("what", sa.JSON(), nullable=False),
        sa.Column("once", sa.String(length=120), nullable=True),
        sa.Column("made_at", at, nullable=False),
        sa.Column("due_at", at, nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("claim", sa.Uuid(), nullable=True),
        sa.Column("lease_until", at, nullable=True),
        sa.Column("last_error", sa.String(length=500), nullable=False),
        sa.Column("given_up_at", at, nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sa.UniqueConstraint("once", name=op.f("uq_job_once")),
    )
    op.create_index(op.f("ix_job_due_at"), "job", ["due_at"])


def downgrade() -> None:
    op.drop_table("job")
