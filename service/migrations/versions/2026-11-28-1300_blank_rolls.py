"""Tags printed ahead: which printings were of blanks, and when and by whom a tag was said to be lost or spoiled."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_1300_blank_rolls"
down_revision = "20261128_1210_limits_of_stores"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("label_batch") as batch_op:
        batch_op.add_column(sa.Column("is_blank", sa.Boolean(), nullable=False, server_default=sa.false()))
    with op.batch_alter_table("label_batch") as batch_op:
        batch_op.alter_column("is_blank", server_default=None)
    with op.batch_alter_table("tag") as batch_op:
        batch_op.add_column(
            sa.Column("ended_at", service.lib.database.UtcInstant(timezone=True), nullable=True)
        )
        batch_op.add_column(sa.Column("ended_by_id", sa.Uuid(), nullable=True))
        batch_op.create_foreign_key(op.f("fk_tag_ended_by_id"), "party", ["ended_by_id"], ["id"])
        batch_op.drop_constraint(op.f("ck_tag_bound"), type_="check")
        batch_op.create_check_constraint(op.f("ck_tag_blank"), "state <> 'blank' or thing_id is null")
        batch_op.create_check_constraint(op.f("ck_tag_bound"), "state <> 'bound' or thing_id is not null")


def downgrade() -> None:
    op.execute("UPDATE tag SET state = 'blank' WHERE state IN ('lost', 'spoiled') AND thing_id IS NULL")
    with op.batch_alter_table("tag") as batch_op:
        batch_op.drop_constraint(op.f("ck_tag_bound"), type_="check")
        batch_op.drop_constraint(op.f("ck_tag_blank"), type_="check")
        batch_op.create_check_constraint(op.f("ck_tag_bound"), "(state = 'blank') = (thing_id is null)")
        batch_op.drop_constraint(op.f("fk_tag_ended_by_id"), type_="foreignkey")
        batch_op.drop_column("ended_by_id")
        batch_op.drop_column("ended_at")
    with op.batch_alter_table("label_batch") as batch_op:
        batch_op.drop_column("is_blank")
