"""Letters to people, and when the weekly one is written."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0602_letters"
down_revision = "20261128_0601_email_of_people"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "letter",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("party_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("text", sa.String(length=20000), nullable=False),
        sa.Column("path", sa.String(length=200), nullable=False),
        sa.Column("about_id", sa.Uuid(), nullable=True),
        sa.Column("quiet", sa.Boolean(), nullable=False),
        sa.Column("made_at", at, nullable=False),
        sa.Column("mail", sa.String(length=24), nullable=False),
        sa.Column("mail_error", sa.String(length=300), nullable=False),
        sa.Column("mailed_at", at, nullable=True),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_letter_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_letter")),
    )
    op.create_index("ix_letter_party_made", "letter", ["party_id", "made_at"])
    op.create_index(op.f("ix_letter_about_id"), "letter", ["about_id"])
    with op.batch_alter_table("club", schema=None) as batch_op:
        batch_op.add_column(sa.Column("weekly_on", sa.Integer(), nullable=False, server_default="6"))
        batch_op.add_column(sa.Column("weekly_hour", sa.Integer(), nullable=False, server_default="18"))


def downgrade() -> None:
    with op.batch_alter_table("club", schema=None) as batch_op:
        batch_op.drop_column("weekly_hour")
        batch_op.drop_column("weekly_on")
    op.drop_table("letter")
