"""Trees and stops."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_03_trees"
down_revision = "20261125_02_catalogue"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "site",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=300), nullable=False),
        sa.Column("region", sa.String(length=200), nullable=False),
        sa.Column("directions", sa.String(length=2000), nullable=False),
        sa.Column("latitude", sa.Float(), nullable=True),
        sa.Column("longitude", sa.Float(), nullable=True),
        sa.Column("area_id", sa.Uuid(), nullable=False),
        sa.Column("area_checked_on", sa.Date(), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_site_area_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_site")),
        sa.UniqueConstraint("name", name=op.f("uq_site_name")),
    )
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_site_area_id"), ["area_id"], unique=False)
    op.create_table(
        "stop",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.String(length=24), nullable=False),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("agent", sa.String(length=200), nullable=False),
        sa.Column("agent_code", sa.String(length=10), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("opened_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("cleared_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_stop_by_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stop")),
    )
    with op.batch_alter_table("stop", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stop_opened_at"), ["opened_at"], unique=False)
    op.create_table(
        "source_tree",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=True),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("where_on_site", sa.String(length=200), nullable=False),
        sa.Column("taxon_id", sa.Uuid(), nullable=False),
        sa.Column("cultivar_id", sa.Uuid(), nullable=True),
        sa.Column("name_as_told", sa.String(length=300), nullable=False),
        sa.Column("identity", sa.String(length=24), nullable=False),
        sa.Column("owner_id", sa.Uuid(), nullable=False),
        sa.Column("may_cut", sa.String(length=24), nullable=False),
        sa.Column("most_sticks", sa.Integer(), nullable=True),
        sa.Column("planted_year", sa.Integer(), nullable=True),
        sa.Column("rootstock_id", sa.Uuid(), nullable=True),
        sa.Column("interstem_id", sa.Uuid(), nullable=True),
        sa.Column("stands_on", sa.String(length=300), nullable=False),
        sa.Column("no_propagation_contract", sa.Boolean(), nullable=False),
        sa.Column("rights_note", sa.String(length=1000), nullable=False),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("felled_on", sa.Date(), nullable=True),
        sa.Column("open_stops", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("open_stops >= 0", name=op.f("ck_source_tree_open_stops")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_source_tree_by_party_id")),
        sa.ForeignKeyConstraint(["cultivar_id"], ["cultivar.id"], name=op.f("fk_source_tree_cultivar_id")),
        sa.ForeignKeyConstraint(["interstem_id"], ["rootstock.id"], name=op.f("fk_source_tree_interstem_id")),
        sa.ForeignKeyConstraint(["owner_id"], ["party.id"], name=op.f("fk_source_tree_owner_id")),
        sa.ForeignKeyConstraint(["rootstock_id"], ["rootstock.id"], name=op.f("fk_source_tree_rootstock_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_source_tree_site_id")),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_source_tree_taxon_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_source_tree")),
        sa.UniqueConstraint("code", name=op.f("uq_source_tree_code")),
        sa.UniqueConstraint("number", name=op.f("uq_source_tree_number")),
    )
    with op.batch_alter_table("source_tree", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_source_tree_cultivar_id"), ["cultivar_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_source_tree_owner_id"), ["owner_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_source_tree_site_id"), ["site_id"], unique=False)
    op.create_table(
        "stop_step",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_stop_step_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_stop_step_for_party_id")),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_stop_step_stop_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stop_step")),
    )
    with op.batch_alter_table("stop_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stop_step_stop_id"), ["stop_id"], unique=False)
    op.create_table(
        "tree_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("result", sa.String(length=24), nullable=False),
        sa.Column("seen_on", sa.Date(), nullable=False),
        sa.Column("agent", sa.String(length=200), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("picture", sa.String(length=64), nullable=True),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_tree_check_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_tree_check_for_party_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_tree_check_tree_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tree_check")),
    )
    with op.batch_alter_table("tree_check", schema=None) as batch_op:
        batch_op.create_index("ix_tree_check_tree_kind_seen", ["tree_id", "kind", "seen_on"], unique=False)
    op.create_table(
        "tree_stop",
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("is_origin", sa.Boolean(), nullable=False),
        sa.Column("placed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("lifted_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_tree_stop_stop_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_tree_stop_tree_id")),
        sa.PrimaryKeyConstraint("stop_id", "tree_id", name=op.f("pk_tree_stop")),
    )
    with op.batch_alter_table("tree_stop", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tree_stop_tree_id"), ["tree_id"], unique=False)
    op.create_table(
        "tree_variety",
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("cultivar_id", sa.Uuid(), nullable=False),
        sa.Column("branch", sa.String(length=200), nullable=False),
        sa.Column("since", sa.Date(), nullable=True),
        sa.ForeignKeyConstraint(["cultivar_id"], ["cultivar.id"], name=op.f("fk_tree_variety_cultivar_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_tree_variety_tree_id")),
        sa.PrimaryKeyConstraint("tree_id", "cultivar_id", name=op.f("pk_tree_variety")),
    )


def downgrade() -> None:
    op.drop_table("tree_variety")
    with op.batch_alter_table("tree_stop", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_tree_stop_tree_id"))
    op.drop_table("tree_stop")
    with op.batch_alter_table("tree_check", schema=None) as batch_op:
        batch_op.drop_index("ix_tree_check_tree_kind_seen")
    op.drop_table("tree_check")
    with op.batch_alter_table("stop_step", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stop_step_stop_id"))
    op.drop_table("stop_step")
    with op.batch_alter_table("source_tree", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_source_tree_site_id"))
        batch_op.drop_index(batch_op.f("ix_source_tree_owner_id"))
        batch_op.drop_index(batch_op.f("ix_source_tree_cultivar_id"))
    op.drop_table("source_tree")
    with op.batch_alter_table("stop", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stop_opened_at"))
    op.drop_table("stop")
    with op.batch_alter_table("site", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_site_area_id"))
    op.drop_table("site")
