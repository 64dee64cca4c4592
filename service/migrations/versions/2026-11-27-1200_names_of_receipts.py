"""The name of wood that came from outside can be put right: no tree of the record bears it."""

import sqlalchemy as sa
from alembic import op

revision = "20261127_00_names_of_receipts"
down_revision = "20261125_16_cuts_to_finish"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("name_correction", schema=None) as batch_op:
        batch_op.alter_column("tree_id", existing_type=sa.Uuid(), nullable=True)


def downgrade() -> None:
    with op.batch_alter_table("name_correction", schema=None) as batch_op:
        batch_op.alter_column("tree_id", existing_type=sa.Uuid(), nullable=False)
