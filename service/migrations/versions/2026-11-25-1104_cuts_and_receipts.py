"""Cuts and receipts."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_04_collection"
down_revision = "20261125_03_trees"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cutting_round",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("started_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("tools", sa.String(length=300), nullable=False),
        sa.Column("disinfected", sa.String(length=300), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_cutting_round_by_party_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_cutting_round_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cutting_round")),
    )
    with op.batch_alter_table("cutting_round", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cutting_round_site_id"), ["site_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_cutting_round_started_at"), ["started_at"], unique=False)
    op.create_table(
        "collection",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("wood", sa.String(length=24), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=True),
        sa.Column("round_id", sa.Uuid(), nullable=True),
        sa.Column("taxon_id", sa.Uuid(), nullable=False),
        sa.Column("cultivar_id", sa.Uuid(), nullable=True),
        sa.Column("name_as_told", sa.String(length=300), nullable=False),
        sa.Column("sticks", sa.Integer(), nullable=False),
        sa.Column("area_id", sa.Uuid(), nullable=True),
        sa.Column("stage", sa.String(length=10), nullable=True),
        sa.Column("leaves_down", sa.Boolean(), nullable=True),
        sa.Column("leaves_off", sa.Boolean(), nullable=True),
        sa.Column("disinfected", sa.Boolean(), nullable=True),
        sa.Column("owner_agreed", sa.String(length=300), nullable=False),
        sa.Column("from_party_id", sa.Uuid(), nullable=True),
        sa.Column("from_whom", sa.String(length=300), nullable=False),
        sa.Column("their_reference", sa.String(length=200), nullable=False),
        sa.Column("health_paper", sa.String(length=300), nullable=False),
        sa.Column("tree_as_told", sa.String(length=300), nullable=False),
        sa.Column("cut_on", sa.Date(), nullable=False),
        sa.Column("cut_on_guessed", sa.Boolean(), nullable=False),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("unfinished", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(kind = 'cut' and tree_id is not null) or (kind = 'receipt' and tree_id is null)",
            name=op.f("ck_collection_kind"),
        ),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_collection_area_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_collection_by_party_id")),
        sa.ForeignKeyConstraint(["cultivar_id"], ["cultivar.id"], name=op.f("fk_collection_cultivar_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_collection_for_party_id")),
        sa.ForeignKeyConstraint(["from_party_id"], ["party.id"], name=op.f("fk_collection_from_party_id")),
        sa.ForeignKeyConstraint(["round_id"], ["cutting_round.id"], name=op.f("fk_collection_round_id")),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_collection_taxon_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_collection_tree_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_collection")),
        sa.UniqueConstraint("number", name=op.f("uq_collection_number")),
    )
    with op.batch_alter_table("collection", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_collection_cultivar_id"), ["cultivar_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_collection_done_at"), ["done_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_collection_from_party_id"), ["from_party_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_collection_round_id"), ["round_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_collection_tree_id"), ["tree_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("collection", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_collection_tree_id"))
        batch_op.drop_index(batch_op.f("ix_collection_round_id"))
        batch_op.drop_index(batch_op.f("ix_collection_from_party_id"))
        batch_op.drop_index(batch_op.f("ix_collection_done_at"))
        batch_op.drop_index(batch_op.f("ix_collection_cultivar_id"))
    op.drop_table("collection")
    with op.batch_alter_table("cutting_round", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cutting_round_started_at"))
        batch_op.drop_index(batch_op.f("ix_cutting_round_site_id"))
    op.drop_table("cutting_round")
