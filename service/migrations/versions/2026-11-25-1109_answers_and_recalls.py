"""Answers and recalls."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_09_provenance"
down_revision = "20261125_08_grafting"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recall",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_recall_by_party_id")),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_recall_stop_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall")),
    )
    with op.batch_alter_table("recall", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recall_stop_id"), ["stop_id"], unique=False)
    op.create_table(
        "recall_party",
        sa.Column("recall_id", sa.Uuid(), nullable=False),
        sa.Column("party_id", sa.Uuid(), nullable=False),
        sa.Column("why", sa.String(length=500), nullable=False),
        sa.Column("told_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("how", sa.String(length=60), nullable=False),
        sa.Column("told_by_party_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_recall_party_party_id")),
        sa.ForeignKeyConstraint(["recall_id"], ["recall.id"], name=op.f("fk_recall_party_recall_id")),
        sa.ForeignKeyConstraint(
            ["told_by_party_id"], ["party.id"], name=op.f("fk_recall_party_told_by_party_id")
        ),
        sa.PrimaryKeyConstraint("recall_id", "party_id", name=op.f("pk_recall_party")),
    )
    op.create_table(
        "answer_card",
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_answer_card_bundle_id")),
        sa.PrimaryKeyConstraint("bundle_id", name=op.f("pk_answer_card")),
    )


def downgrade() -> None:
    op.drop_table("answer_card")
    op.drop_table("recall_party")
    with op.batch_alter_table("recall", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_recall_stop_id"))
    op.drop_table("recall")
