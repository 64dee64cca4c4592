"""Shelves and boxes counted by scanning."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0400_shelves_counted"
down_revision = "20261128_0200_lists"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "shelf_count",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("place_id", sa.Uuid(), nullable=True),
        sa.Column("box_id", sa.Uuid(), nullable=True),
        sa.Column("begun_at", at, nullable=False),
        sa.Column("ended_at", at, nullable=True),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.CheckConstraint("(place_id is null) <> (box_id is null)", name=op.f("ck_shelf_count_one_spot")),
        sa.ForeignKeyConstraint(["box_id"], ["box.id"], name=op.f("fk_shelf_count_box_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_shelf_count_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_shelf_count_for_party_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_shelf_count_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_count")),
    )
    op.create_index(op.f("ix_shelf_count_begun_at"), "shelf_count", ["begun_at"])
    op.create_table(
        "shelf_finding",
        sa.Column("count_id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("finding", sa.String(length=24), nullable=False),
        sa.Column("found_at", at, nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_shelf_finding_bundle_id")),
        sa.ForeignKeyConstraint(["count_id"], ["shelf_count.id"], name=op.f("fk_shelf_finding_count_id")),
        sa.PrimaryKeyConstraint("count_id", "bundle_id", name=op.f("pk_shelf_finding")),
    )
    op.create_index(op.f("ix_shelf_finding_bundle_id"), "shelf_finding", ["bundle_id"])


def downgrade() -> None:
    op.drop_table("shelf_finding")
    op.drop_table("shelf_count")
