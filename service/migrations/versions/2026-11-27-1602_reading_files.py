"""Files of loggers, waiting and taken."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261127_1602_reading_files"
down_revision = "20261127_1601_loggers"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reading_file",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("logger_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.Column("form", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("added", sa.Integer(), nullable=False),
        sa.Column("same", sa.Integer(), nullable=False),
        sa.Column("replaced", sa.Integer(), nullable=False),
        sa.Column("passed_over", sa.Integer(), nullable=False),
        sa.Column("first_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("last_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("told", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("sent_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("settled_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("settled_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_reading_file_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_reading_file_for_party_id")),
        sa.ForeignKeyConstraint(["logger_id"], ["logger.id"], name=op.f("fk_reading_file_logger_id")),
        sa.ForeignKeyConstraint(
            ["settled_by_party_id"], ["party.id"], name=op.f("fk_reading_file_settled_by_party_id")
        ),
        sa.ForeignKeyConstraint(
            ["taken_back_by_party_id"], ["party.id"], name=op.f("fk_reading_file_taken_back_by_party_id")
        ),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_reading_file")),
        sa.UniqueConstraint("id", name=op.f("uq_reading_file_id")),
    )
    op.create_index(op.f("ix_reading_file_logger_id"), "reading_file", ["logger_id"], unique=False)
    with op.batch_alter_table("left_out", schema=None) as batch_op:
        batch_op.add_column(sa.Column("file_id", sa.Uuid(), nullable=True))
        batch_op.create_foreign_key(batch_op.f("fk_left_out_file_id"), "reading_file", ["file_id"], ["id"])


def downgrade() -> None:
    with op.batch_alter_table("left_out", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_left_out_file_id"), type_="foreignkey")
        batch_op.drop_column("file_id")
    op.drop_index(op.f("ix_reading_file_logger_id"), table_name="reading_file")
    op.drop_table("reading_file")
