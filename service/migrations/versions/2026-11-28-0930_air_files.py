"""Files with days of air, waiting and taken."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0930_air_files"
down_revision = "20261128_0900_limit_it_rang_by"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "air_file",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("measured", sa.String(length=500), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.Column("form", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("same", sa.Integer(), nullable=False),
        sa.Column("replaced", sa.Integer(), nullable=False),
        sa.Column("passed_over", sa.Integer(), nullable=False),
        sa.Column("first_on", sa.Date(), nullable=True),
        sa.Column("last_on", sa.Date(), nullable=True),
        sa.Column("told", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("sent_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("settled_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("settled_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_air_file_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_air_file_for_party_id")),
        sa.ForeignKeyConstraint(
            ["settled_by_party_id"], ["party.id"], name=op.f("fk_air_file_settled_by_party_id")
        ),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_air_file_site_id")),
        sa.ForeignKeyConstraint(
            ["taken_back_by_party_id"], ["party.id"], name=op.f("fk_air_file_taken_back_by_party_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_air_file")),
    )
    op.create_index(op.f("ix_air_file_site_id"), "air_file", ["site_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_air_file_site_id"), table_name="air_file")
    op.drop_table("air_file")
