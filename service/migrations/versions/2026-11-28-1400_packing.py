"""How bundles are packed, as people tell it."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1400_packing"
down_revision = "20261128_1330_forecast_range"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bundle_packing",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("packing", sa.String(length=24), nullable=True),
        sa.Column("waxed", sa.Boolean(), nullable=True),
        sa.Column("disinfected", sa.Boolean(), nullable=True),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.CheckConstraint(
            "packing is not null or waxed is not null or disinfected is not null",
            name=op.f("ck_bundle_packing_tells_something"),
        ),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_bundle_packing_bundle_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_bundle_packing_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_bundle_packing_for_party_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_bundle_packing")),
        sa.UniqueConstraint("id", name=op.f("uq_bundle_packing_id")),
    )
    with op.batch_alter_table("bundle_packing", schema=None) as batch_op:
        batch_op.create_index("ix_bundle_packing_bundle_done", ["bundle_id", "done_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("bundle_packing", schema=None) as batch_op:
        batch_op.drop_index("ix_bundle_packing_bundle_done")
    op.drop_table("bundle_packing")
