"""Lists that were taken back: when, by whom and why."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0500_lists_taken_back"
down_revision = "20261128_0450_cut_tree"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    with op.batch_alter_table("list_file") as table:
        table.add_column(sa.Column("taken_back_at", at, nullable=True))
        table.add_column(sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True))
        table.add_column(
            sa.Column("taken_back_reason", sa.String(length=1000), nullable=False, server_default="")
        )
        table.create_foreign_key(
            op.f("fk_list_file_taken_back_by_party_id"), "party", ["taken_back_by_party_id"], ["id"]
        )
    with op.batch_alter_table("list_file") as table:
        table.alter_column("taken_back_reason", server_default=None)


def downgrade() -> None:
    with op.batch_alter_table("list_file") as table:
        table.drop_constraint(op.f("fk_list_file_taken_back_by_party_id"), type_="foreignkey")
        for name in ("taken_back_reason", "taken_back_by_party_id", "taken_back_at"):
            table.drop_column(name)
