"""Kinds and varieties."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_02_catalogue"
down_revision = "20261125_01_members"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "grafting_method",
        sa.Column("slug", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("family", sa.String(length=24), nullable=False),
        sa.Column("unit", sa.String(length=24), nullable=False),
        sa.Column("wood", sa.String(length=200), nullable=False),
        sa.Column("bark_must_slip", sa.String(length=100), nullable=False),
        sa.Column("season", sa.String(length=300), nullable=False),
        sa.Column("first_look_weeks", sa.Integer(), nullable=True),
        sa.Column("verdict_weeks_from", sa.Integer(), nullable=True),
        sa.Column("verdict_weeks_to", sa.Integer(), nullable=True),
        sa.Column("verdict_mark", sa.String(length=40), nullable=False),
        sa.Column("tie", sa.String(length=500), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("source", sa.String(length=1000), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("slug", name=op.f("pk_grafting_method")),
    )
    op.create_table(
        "growth_stage",
        sa.Column("scale", sa.String(length=24), nullable=False),
        sa.Column("code", sa.String(length=10), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("seen", sa.String(length=500), nullable=False),
        sa.Column("collecting", sa.String(length=500), nullable=False),
        sa.Column("stored_wood", sa.String(length=500), nullable=False),
        sa.Column("wood_use", sa.String(length=30), nullable=False),
        sa.Column("source", sa.String(length=500), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("scale", "code", name=op.f("pk_growth_stage")),
    )
    op.create_table(
        "health_agent",
        sa.Column("slug", sa.String(length=80), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("eppo_code", sa.String(length=20), nullable=False),
        sa.Column("eppo_mark", sa.String(length=40), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("hosts", sa.String(length=500), nullable=False),
        sa.Column("host_genera", sa.String(length=500), nullable=False),
        sa.Column("spread", sa.String(length=1000), nullable=False),
        sa.Column("latency", sa.String(length=1000), nullable=False),
        sa.Column("latency_source", sa.String(length=500), nullable=False),
        sa.Column("caution", sa.String(length=1000), nullable=False),
        sa.Column("source", sa.String(length=1000), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("slug", name=op.f("pk_health_agent")),
    )
    op.create_table(
        "join_advice",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("scion_taxon", sa.String(length=200), nullable=False),
        sa.Column("scion_cultivar", sa.String(length=300), nullable=False),
        sa.Column("scion_condition", sa.String(length=300), nullable=False),
        sa.Column("stock_taxon", sa.String(length=200), nullable=False),
        sa.Column("stock", sa.String(length=300), nullable=False),
        sa.Column("stock_condition", sa.String(length=300), nullable=False),
        sa.Column("verdict", sa.String(length=40), nullable=False),
        sa.Column("bridge", sa.String(length=300), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("source", sa.String(length=1000), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_join_advice")),
        sa.UniqueConstraint("place", name=op.f("uq_join_advice_place")),
    )
    with op.batch_alter_table("join_advice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_join_advice_scion_taxon"), ["scion_taxon"], unique=False)
    op.create_table(
        "taxon",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("slug", sa.String(length=60), nullable=False),
        sa.Column("botanical_name", sa.String(length=200), nullable=False),
        sa.Column("genus", sa.String(length=100), nullable=False),
        sa.Column("kind", sa.String(length=100), nullable=False),
        sa.Column("eppo_code", sa.String(length=10), nullable=False),
        sa.Column("eppo_mark", sa.String(length=40), nullable=False),
        sa.Column("species_group", sa.String(length=40), nullable=False),
        sa.Column("stage_scale", sa.String(length=24), nullable=False),
        sa.Column("summer_budwood", sa.String(length=24), nullable=False),
        sa.Column("used_as", sa.String(length=24), nullable=False),
        sa.Column("source", sa.String(length=500), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_taxon")),
        sa.UniqueConstraint("botanical_name", name=op.f("uq_taxon_botanical_name")),
        sa.UniqueConstraint("slug", name=op.f("uq_taxon_slug")),
    )
    with op.batch_alter_table("taxon", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_taxon_genus"), ["genus"], unique=False)
    op.create_table(
        "rootstock",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("taxon_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("form", sa.String(length=24), nullable=False),
        sa.Column("vigour", sa.String(length=100), nullable=False),
        sa.Column("other_names", sa.String(length=500), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("source", sa.String(length=500), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_rootstock_taxon_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rootstock")),
        sa.UniqueConstraint("taxon_id", "name", name=op.f("uq_rootstock_taxon_id_name")),
    )
    with op.batch_alter_table("rootstock", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_rootstock_taxon_id"), ["taxon_id"], unique=False)
    op.create_table(
        "cultivar",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("taxon_id", sa.Uuid(), nullable=False),
        sa.Column("epithet", sa.String(length=300), nullable=False),
        sa.Column("group_name", sa.String(length=100), nullable=False),
        sa.Column("trade_designation", sa.String(length=200), nullable=False),
        sa.Column("sport_of_id", sa.Uuid(), nullable=True),
        sa.Column("protection", sa.String(length=24), nullable=False),
        sa.Column("protected_until", sa.Date(), nullable=True),
        sa.Column("protection_checked_on", sa.Date(), nullable=True),
        sa.Column("protection_checked_by_id", sa.Uuid(), nullable=True),
        sa.Column("protection_register", sa.String(length=200), nullable=False),
        sa.Column("protection_note", sa.String(length=1000), nullable=False),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("edited_by_club", sa.Boolean(), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=True),
        sa.Column("source", sa.String(length=500), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "protection in ('free', 'protected', 'applied', 'unknown', 'permission')",
            name=op.f("ck_cultivar_protection"),
        ),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_cultivar_by_party_id")),
        sa.ForeignKeyConstraint(
            ["protection_checked_by_id"], ["party.id"], name=op.f("fk_cultivar_protection_checked_by_id")
        ),
        sa.ForeignKeyConstraint(["sport_of_id"], ["cultivar.id"], name=op.f("fk_cultivar_sport_of_id")),
        sa.ForeignKeyConstraint(["taxon_id"], ["taxon.id"], name=op.f("fk_cultivar_taxon_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cultivar")),
        sa.UniqueConstraint("taxon_id", "epithet", name=op.f("uq_cultivar_taxon_id_epithet")),
    )
    with op.batch_alter_table("cultivar", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cultivar_taxon_id"), ["taxon_id"], unique=False)
    op.create_table(
        "cultivar_name",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("cultivar_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=300), nullable=False),
        sa.Column("kind", sa.String(length=30), nullable=False),
        sa.Column("folded", sa.String(length=400), nullable=False),
        sa.Column("trigrams", sa.Integer(), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=True),
        sa.Column("source", sa.String(length=500), nullable=False),
        sa.Column("mark", sa.String(length=40), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_cultivar_name_by_party_id")),
        sa.ForeignKeyConstraint(["cultivar_id"], ["cultivar.id"], name=op.f("fk_cultivar_name_cultivar_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cultivar_name")),
        sa.UniqueConstraint("cultivar_id", "name", name=op.f("uq_cultivar_name_cultivar_id_name")),
    )
    with op.batch_alter_table("cultivar_name", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cultivar_name_folded"), ["folded"], unique=False)
    op.create_table(
        "name_trigram",
        sa.Column("trigram", sa.String(length=3), nullable=False),
        sa.Column("name_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["name_id"], ["cultivar_name.id"], name=op.f("fk_name_trigram_name_id")),
        sa.PrimaryKeyConstraint("trigram", "name_id", name=op.f("pk_name_trigram")),
    )
    with op.batch_alter_table("name_trigram", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_name_trigram_name_id"), ["name_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("name_trigram", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_name_trigram_name_id"))
    op.drop_table("name_trigram")
    with op.batch_alter_table("cultivar_name", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cultivar_name_folded"))
    op.drop_table("cultivar_name")
    with op.batch_alter_table("cultivar", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cultivar_taxon_id"))
    op.drop_table("cultivar")
    with op.batch_alter_table("rootstock", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_rootstock_taxon_id"))
    op.drop_table("rootstock")
    with op.batch_alter_table("taxon", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_taxon_genus"))
    op.drop_table("taxon")
    with op.batch_alter_table("join_advice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_join_advice_scion_taxon"))
    op.drop_table("join_advice")
    op.drop_table("health_agent")
    op.drop_table("growth_stage")
    op.drop_table("grafting_method")
