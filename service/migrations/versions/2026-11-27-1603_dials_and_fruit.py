"""Thermometers read by hand, and fruit in stores."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261127_1603_dials_and_fruit"
down_revision = "20261127_1602_reading_files"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "fruit_spell",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("what", sa.String(length=200), nullable=False),
        sa.Column("amount", sa.String(length=24), nullable=False),
        sa.Column("from_on", sa.Date(), nullable=False),
        sa.Column("until_on", sa.Date(), nullable=True),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("ended_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("ended_by_party_id", sa.Uuid(), nullable=True),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_fruit_spell_by_party_id")),
        sa.ForeignKeyConstraint(
            ["ended_by_party_id"], ["party.id"], name=op.f("fk_fruit_spell_ended_by_party_id")
        ),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_fruit_spell_for_party_id")),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_fruit_spell_store_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fruit_spell")),
    )
    op.create_index(op.f("ix_fruit_spell_store_id"), "fruit_spell", ["store_id"], unique=False)
    op.create_table(
        "dial_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("place_id", sa.Uuid(), nullable=True),
        sa.Column("unit", sa.String(length=1), nullable=False),
        sa.Column("now", sa.Integer(), nullable=True),
        sa.Column("lowest", sa.Integer(), nullable=True),
        sa.Column("highest", sa.Integer(), nullable=True),
        sa.Column("reset_done", sa.Boolean(), nullable=False),
        sa.Column("read_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("taken_back_why", sa.String(length=500), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_dial_reading_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_dial_reading_for_party_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_dial_reading_place_id")),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_dial_reading_store_id")),
        sa.ForeignKeyConstraint(
            ["taken_back_by_party_id"], ["party.id"], name=op.f("fk_dial_reading_taken_back_by_party_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dial_reading")),
    )
    op.create_index("ix_dial_reading_store_read", "dial_reading", ["store_id", "read_at"], unique=False)


def downgrade() -> None:
    op.drop_index("ix_dial_reading_store_read", table_name="dial_reading")
    op.drop_table("dial_reading")
    op.drop_index(op.f("ix_fruit_spell_store_id"), table_name="fruit_spell")
    op.drop_table("fruit_spell")
