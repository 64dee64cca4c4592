"""Trees and cuts whose name was put right; the time of a cut put right."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_11_names_put_right"
down_revision = "20261125_10_stops_let_go"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "tree_name_change",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("from_taxon_id", sa.Uuid(), nullable=False),
        sa.Column("from_cultivar_id", sa.Uuid(), nullable=True),
        sa.Column("from_name_as_told", sa.String(length=300), nullable=False),
        sa.Column("from_words", sa.String(length=320), nullable=False),
        sa.Column("from_since", sa.Date(), nullable=True),
        sa.Column("taxon_id", sa.Uuid(), nullable=False),
        sa.Column("cultivar_id", sa.Uuid(), nullable=True),
        sa.Column("name_as_told", sa.String(length=300), nullable=False),
        sa.Column("words", sa.String(length=320), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("follows_tree_id", sa.Uuid(), nullable=True),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_tree_name_change_by_party_id")),
        sa.ForeignKeyConstraint(
            ["cultivar_id"], ["cultivar.id"], name=op.f("fk_tree_name_change_cultivar_id")
        ),
        sa.ForeignKeyConstraint(
            ["follows_tree_id"], ["source_tree.id"], name=op.f("fk_tree_name_change_follows_tree_id")
        ),
        sa.ForeignKeyConstraint(
            ["for_party_id"], ["party.id"], name=op.f("fk_tree_name_change_for_party_id")
        ),
        sa.ForeignKeyConstraint(
            ["from_cultivar_id"], ["cultivar.id"], name=op.f("fk_tree_name_change_from_cultivar_id")
        ),
        sa.ForeignKeyConstraint(
            ["from_taxon_id"], ["taxon.id"], name=op.f("fk_tree_name_change_from_taxon_id")
        ),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_tree_name_change_taxon_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_tree_name_change_tree_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_tree_name_change")),
    )
    with op.batch_alter_table("tree_name_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tree_name_change_tree_id"), ["tree_id"], unique=False)
    op.create_table(
        "name_correction",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("collection_id", sa.Uuid(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("from_taxon_id", sa.Uuid(), nullable=False),
        sa.Column("from_cultivar_id", sa.Uuid(), nullable=True),
        sa.Column("from_name_as_told", sa.String(length=300), nullable=False),
        sa.Column("from_words", sa.String(length=320), nullable=False),
        sa.Column("words", sa.String(length=320), nullable=False),
        sa.Column("on_day", sa.Date(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_name_correction_by_party_id")),
        sa.ForeignKeyConstraint(
            ["collection_id"], ["collection.id"], name=op.f("fk_name_correction_collection_id")
        ),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_name_correction_for_party_id")),
        sa.ForeignKeyConstraint(
            ["from_cultivar_id"], ["cultivar.id"], name=op.f("fk_name_correction_from_cultivar_id")
        ),
        sa.ForeignKeyConstraint(
            ["from_taxon_id"], ["taxon.id"], name=op.f("fk_name_correction_from_taxon_id")
        ),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_name_correction_tree_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_name_correction")),
    )
    with op.batch_alter_table("name_correction", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_name_correction_collection_id"), ["collection_id"], unique=False)
    op.create_table(
        "time_correction",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("collection_id", sa.Uuid(), nullable=False),
        sa.Column("from_done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_time_correction_by_party_id")),
        sa.ForeignKeyConstraint(
            ["collection_id"], ["collection.id"], name=op.f("fk_time_correction_collection_id")
        ),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_time_correction_for_party_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_time_correction")),
    )
    with op.batch_alter_table("time_correction", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_time_correction_collection_id"), ["collection_id"], unique=False)
    with op.batch_alter_table("source_tree", schema=None) as batch_op:
        batch_op.add_column(sa.Column("name_since", sa.Date(), nullable=True))


def downgrade() -> None:
    with op.batch_alter_table("source_tree", schema=None) as batch_op:
        batch_op.drop_column("name_since")
    with op.batch_alter_table("time_correction", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_time_correction_collection_id"))
    op.drop_table("time_correction")
    with op.batch_alter_table("name_correction", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_name_correction_collection_id"))
    op.drop_table("name_correction")
    with op.batch_alter_table("tree_name_change", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tree_name_change_tree_id"))
    op.drop_table("tree_name_change")
