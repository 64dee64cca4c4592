"""The hours of a site's air, kept as they were read, and of each day its twenty-four means."""

import sqlalchemy as sa
from alembic import op

revision = "20261128_1420_air_hours"
down_revision = "20261128_1410_hours_with_packs"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("air_day", sa.Column("hours", sa.LargeBinary(), nullable=True))
    op.create_table(
        "air_readings",
        sa.Column("file_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("block", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["file_id"], ["air_file.id"], name=op.f("fk_air_readings_file_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_air_readings_site_id")),
        sa.PrimaryKeyConstraint("file_id", "day", name=op.f("pk_air_readings")),
    )
    op.create_index("ix_air_readings_site_id_day", "air_readings", ["site_id", "day"])


def downgrade() -> None:
    op.drop_index("ix_air_readings_site_id_day", table_name="air_readings")
    op.drop_table("air_readings")
    with op.batch_alter_table("air_day") as table:
        table.drop_column("hours")
