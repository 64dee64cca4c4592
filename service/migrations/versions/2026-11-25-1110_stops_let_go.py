"""Things a stop let go."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_10_stops_let_go"
down_revision = "20261125_09_provenance"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "stop_release",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("thing_id", sa.Uuid(), nullable=False),
        sa.Column("placed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("released_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("alone", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_stop_release_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_stop_release_for_party_id")),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_stop_release_stop_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_stop_release")),
    )
    with op.batch_alter_table("stop_release", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stop_release_stop_id"), ["stop_id"], unique=False)
        batch_op.create_index("ix_stop_release_thing", ["thing_id", "stop_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("stop_release", schema=None) as batch_op:
        batch_op.drop_index("ix_stop_release_thing")
        batch_op.drop_index(batch_op.f("ix_stop_release_stop_id"))
    op.drop_table("stop_release")
