"""Grafts that were recorded by mistake; plants that change hands."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_12_grafts_taken_back"
down_revision = "20261125_11_names_put_right"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "graft_taken_back",
        sa.Column("graft_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_graft_taken_back_by_party_id")),
        sa.ForeignKeyConstraint(
            ["for_party_id"], ["party.id"], name=op.f("fk_graft_taken_back_for_party_id")
        ),
        sa.ForeignKeyConstraint(["graft_id"], ["graft.id"], name=op.f("fk_graft_taken_back_graft_id")),
        sa.PrimaryKeyConstraint("graft_id", name=op.f("pk_graft_taken_back")),
    )
    op.create_table(
        "plant_move",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("plant_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("from_party_id", sa.Uuid(), nullable=True),
        sa.Column("party_id", sa.Uuid(), nullable=True),
        sa.Column("to_whom", sa.String(length=300), nullable=False),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_plant_move_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_plant_move_for_party_id")),
        sa.ForeignKeyConstraint(["from_party_id"], ["party.id"], name=op.f("fk_plant_move_from_party_id")),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_plant_move_party_id")),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.id"], name=op.f("fk_plant_move_plant_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_plant_move")),
        sa.UniqueConstraint("id", name=op.f("uq_plant_move_id")),
    )
    with op.batch_alter_table("plant_move", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plant_move_from_party_id"), ["from_party_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plant_move_party_id"), ["party_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plant_move_plant_id"), ["plant_id"], unique=False)
    with op.batch_alter_table("graft", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True)
        )
    with op.batch_alter_table("graft_wood", schema=None) as batch_op:
        batch_op.add_column(sa.Column("taken_back", sa.Boolean(), nullable=False, server_default=sa.false()))


def downgrade() -> None:
    with op.batch_alter_table("graft_wood", schema=None) as batch_op:
        batch_op.drop_column("taken_back")
    with op.batch_alter_table("graft", schema=None) as batch_op:
        batch_op.drop_column("taken_back_at")
    with op.batch_alter_table("plant_move", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plant_move_plant_id"))
        batch_op.drop_index(batch_op.f("ix_plant_move_party_id"))
        batch_op.drop_index(batch_op.f("ix_plant_move_from_party_id"))
    op.drop_table("plant_move")
    op.drop_table("graft_taken_back")
