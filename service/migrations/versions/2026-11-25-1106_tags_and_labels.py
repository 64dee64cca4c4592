"""Tags and labels."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_06_tags"
down_revision = "20261125_05_bundles"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "public_address",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("host", sa.String(length=28), nullable=False),
        sa.Column("confirmed_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_public_address_by_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_public_address")),
        sa.UniqueConstraint("host", name=op.f("uq_public_address_host")),
    )
    op.create_table(
        "label_batch",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("address_id", sa.Uuid(), nullable=False),
        sa.Column("sheet", sa.String(length=40), nullable=False),
        sa.Column("labels", sa.Integer(), nullable=False),
        sa.Column("pages", sa.Integer(), nullable=False),
        sa.Column("first_label", sa.Integer(), nullable=False),
        sa.Column("copies", sa.Integer(), nullable=False),
        sa.Column("nudge_x_mm", sa.Float(), nullable=False),
        sa.Column("nudge_y_mm", sa.Float(), nullable=False),
        sa.Column("club", sa.String(length=24), nullable=False),
        sa.Column("printed_on", sa.Date(), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["address_id"], ["public_address.id"], name=op.f("fk_label_batch_address_id")
        ),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_label_batch_by_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_label_batch")),
    )
    with op.batch_alter_table("label_batch", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_label_batch_made_at"), ["made_at"], unique=False)
    op.create_table(
        "tag",
        sa.Column("code", sa.String(length=8), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("thing_id", sa.Uuid(), nullable=True),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("placement", sa.String(length=24), nullable=False),
        sa.Column("replaced_by", sa.String(), nullable=True),
        sa.Column("batch_id", sa.Uuid(), nullable=True),
        sa.Column("printed_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.CheckConstraint("(state = 'blank') = (thing_id is null)", name=op.f("ck_tag_bound")),
        sa.CheckConstraint(
            "kind in ('', 'bundle', 'tree', 'box', 'store', 'plant')", name=op.f("ck_tag_kind")
        ),
        sa.CheckConstraint("placement in ('bag', 'wood')", name=op.f("ck_tag_placement")),
        sa.ForeignKeyConstraint(["batch_id"], ["label_batch.id"], name=op.f("fk_tag_batch_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_tag_by_party_id")),
        sa.ForeignKeyConstraint(["replaced_by"], ["tag.code"], name=op.f("fk_tag_replaced_by")),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_tag")),
    )
    with op.batch_alter_table("tag", schema=None) as batch_op:
        batch_op.create_index("ix_tag_printed_at_made_at", ["printed_at", "made_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_tag_thing_id"), ["thing_id"], unique=False)
        batch_op.create_index(
            "uq_tag_thing_placement",
            ["thing_id", "placement"],
            unique=True,
            sqlite_where=sa.text("state = 'bound'"),
            postgresql_where=sa.text("state = 'bound'"),
        )
    op.create_table(
        "printed_label",
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(), nullable=False),
        sa.Column("placement", sa.String(length=24), nullable=False),
        sa.Column("words", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["label_batch.id"], name=op.f("fk_printed_label_batch_id")),
        sa.ForeignKeyConstraint(["code"], ["tag.code"], name=op.f("fk_printed_label_code")),
        sa.PrimaryKeyConstraint("batch_id", "place", name=op.f("pk_printed_label")),
    )
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_printed_label_code"), ["code"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("printed_label", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_printed_label_code"))
    op.drop_table("printed_label")
    with op.batch_alter_table("tag", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_tag_thing_placement",
            sqlite_where=sa.text("state = 'bound'"),
            postgresql_where=sa.text("state = 'bound'"),
        )
        batch_op.drop_index(batch_op.f("ix_tag_thing_id"))
        batch_op.drop_index("ix_tag_printed_at_made_at")
    op.drop_table("tag")
    with op.batch_alter_table("label_batch", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_label_batch_made_at"))
    op.drop_table("label_batch")
    op.drop_table("public_address")
