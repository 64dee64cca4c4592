"""Pictures of what lies on a shelf or in a box, with the tags that were read in them."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1700_shelf_photos"
down_revision = "20261128_1450_worst_first"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "shelf_photo",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("count_id", sa.Uuid(), nullable=False),
        sa.Column("picture", sa.String(length=64), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("seen", sa.JSON(), nullable=False),
        sa.Column("read_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_shelf_photo_by_party_id")),
        sa.ForeignKeyConstraint(["count_id"], ["shelf_count.id"], name=op.f("fk_shelf_photo_count_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_photo")),
    )
    op.create_index(op.f("ix_shelf_photo_count_id"), "shelf_photo", ["count_id"])


def downgrade() -> None:
    op.drop_table("shelf_photo")
