"""Sheets and rolls of labels that somebody of the club measured."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1710_own_sheets"
down_revision = "20261128_1700_shelf_photos"
branch_labels = None
depends_on = None

_MM = (
    "page_w_mm",
    "page_h_mm",
    "label_w_mm",
    "label_h_mm",
    "top_mm",
    "left_mm",
    "gap_x_mm",
    "gap_y_mm",
    "tail_mm",
)


def upgrade() -> None:
    op.create_table(
        "own_sheet",
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("title", sa.String(length=100), nullable=False),
        *(sa.Column(name, sa.Float(), nullable=False) for name in _MM),
        sa.Column("columns", sa.Integer(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("retired_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_own_sheet_by_party_id")),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_own_sheet")),
    )


def downgrade() -> None:
    op.drop_table("own_sheet")
