"""Loggers, where they hang, and their readings by the day."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261127_1601_loggers"
down_revision = "20261127_1600_storage_limits"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "logger",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("serial", sa.String(length=100), nullable=False),
        sa.Column("file_form", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("retired_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_logger")),
        sa.UniqueConstraint("name", name=op.f("uq_logger_name")),
    )
    op.create_table(
        "reading_day",
        sa.Column("logger_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("readings", sa.Integer(), nullable=False),
        sa.Column("last_second", sa.BigInteger(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["logger_id"], ["logger.id"], name=op.f("fk_reading_day_logger_id")),
        sa.PrimaryKeyConstraint("logger_id", "day", name=op.f("pk_reading_day")),
    )
    op.create_table(
        "left_out",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("logger_id", sa.Uuid(), nullable=False),
        sa.Column("from_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("until_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("why", sa.String(length=500), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("ended_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("ended_by_party_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_left_out_by_party_id")),
        sa.ForeignKeyConstraint(
            ["ended_by_party_id"], ["party.id"], name=op.f("fk_left_out_ended_by_party_id")
        ),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_left_out_for_party_id")),
        sa.ForeignKeyConstraint(["logger_id"], ["logger.id"], name=op.f("fk_left_out_logger_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_left_out")),
    )
    op.create_index(op.f("ix_left_out_logger_id"), "left_out", ["logger_id"], unique=False)
    op.create_table(
        "logger_offset",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("logger_id", sa.Uuid(), nullable=False),
        sa.Column("offset_c", sa.Float(), nullable=False),
        sa.Column("from_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("how", sa.String(length=500), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_logger_offset_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_logger_offset_for_party_id")),
        sa.ForeignKeyConstraint(["logger_id"], ["logger.id"], name=op.f("fk_logger_offset_logger_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_logger_offset")),
        sa.UniqueConstraint("id", name=op.f("uq_logger_offset_id")),
    )
    op.create_index(op.f("ix_logger_offset_logger_id"), "logger_offset", ["logger_id"], unique=False)
    op.create_table(
        "logger_move",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("logger_id", sa.Uuid(), nullable=False),
        sa.Column("box_id", sa.Uuid(), nullable=True),
        sa.Column("place_id", sa.Uuid(), nullable=True),
        sa.Column("sensor", sa.String(length=24), nullable=False),
        sa.Column("from_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.ForeignKeyConstraint(["box_id"], ["box.id"], name=op.f("fk_logger_move_box_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_logger_move_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_logger_move_for_party_id")),
        sa.ForeignKeyConstraint(["logger_id"], ["logger.id"], name=op.f("fk_logger_move_logger_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_logger_move_place_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_logger_move")),
        sa.UniqueConstraint("id", name=op.f("uq_logger_move_id")),
    )
    op.create_index(op.f("ix_logger_move_logger_id"), "logger_move", ["logger_id"], unique=False)


def downgrade() -> None:
    op.drop_index(op.f("ix_logger_move_logger_id"), table_name="logger_move")
    op.drop_table("logger_move")
    op.drop_index(op.f("ix_logger_offset_logger_id"), table_name="logger_offset")
    op.drop_table("logger_offset")
    op.drop_index(op.f("ix_left_out_logger_id"), table_name="left_out")
    op.drop_table("left_out")
    op.drop_table("reading_day")
    op.drop_table("logger")
