"""An address for the club's letters, and whether they are wanted there."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_0601_email_of_people"
down_revision = "20261128_0600_jobs"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("party", schema=None) as batch_op:
        batch_op.add_column(sa.Column("email", sa.String(length=254), nullable=False, server_default=""))
        batch_op.add_column(sa.Column("mail_wanted", sa.Boolean(), nullable=False, server_default=sa.true()))


def downgrade() -> None:
    with op.batch_alter_table("party", schema=None) as batch_op:
        batch_op.drop_column("mail_wanted")
        batch_op.drop_column("email")
