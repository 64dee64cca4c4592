"""Bundles found by who has them, the newest first, without sorting all of them."""

from alembic import op

revision = "20261125_14_bundles_by_holder"
down_revision = "20261125_13_names_of_agents"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("bundle", schema=None) as batch_op:
        batch_op.create_index("ix_bundle_holder_made", ["holder_id", "made_at", "id"], unique=False)
        batch_op.drop_index(batch_op.f("ix_bundle_holder_id"))


def downgrade() -> None:
    with op.batch_alter_table("bundle", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bundle_holder_id"), ["holder_id"], unique=False)
        batch_op.drop_index("ix_bundle_holder_made")
