"""Cuts that turned out to come from another tree than was written down."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0450_cut_tree"
down_revision = "20261128_0400_shelves_counted"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "tree_correction",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("collection_id", sa.Uuid(), nullable=False),
        sa.Column("from_tree_id", sa.Uuid(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("from_stage", sa.String(length=10), nullable=True),
        sa.Column("from_owner_agreed", sa.String(length=300), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("recorded_at", at, nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_tree_correction_by_party_id")),
        sa.ForeignKeyConstraint(
            ["collection_id"], ["collection.id"], name=op.f("fk_tree_correction_collection_id")
        ),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_tree_correction_for_party_id")),
        sa.ForeignKeyConstraint(
            ["from_tree_id"], ["source_tree.id"], name=op.f("fk_tree_correction_from_tree_id")
        ),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_tree_correction_tree_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_tree_correction")),
    )
    for column in ("collection_id", "from_tree_id"):
        op.create_index(op.f(f"ix_tree_correction_{column}"), "tree_correction", [column])


def downgrade() -> None:
    op.drop_table("tree_correction")
