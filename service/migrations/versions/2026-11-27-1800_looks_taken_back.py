"""Looks at trees that were written down by mistake can be taken back."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261127_18_looks_taken_back"
down_revision = "20261127_1603_dials_and_fruit"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("tree_check", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True)
        )
        batch_op.add_column(sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True))
        batch_op.create_foreign_key(
            batch_op.f("fk_tree_check_taken_back_by_party_id"), "party", ["taken_back_by_party_id"], ["id"]
        )


def downgrade() -> None:
    with op.batch_alter_table("tree_check", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("fk_tree_check_taken_back_by_party_id"), type_="foreignkey")
        batch_op.drop_column("taken_back_by_party_id")
        batch_op.drop_column("taken_back_at")
