"""Lists that were sent, and what each brought."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0200_lists"
down_revision = "20261128_0200_bags_weighed"
branch_labels = None
depends_on = None


def upgrade() -> None:
    at = service.lib.database.UtcInstant(timezone=True)
    op.create_table(
        "list_file",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("sort", sa.String(length=24), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.Column("form", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("answers", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("brought", sa.Integer(), nullable=False),
        sa.Column("left_out", sa.Integer(), nullable=False),
        sa.Column("told", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("sent_at", at, nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("settled_at", at, nullable=True),
        sa.Column("settled_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        *(
            sa.ForeignKeyConstraint([name], ["party.id"], name=op.f(f"fk_list_file_{name}"))
            for name in ("by_party_id", "for_party_id", "settled_by_party_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_list_file")),
    )
    op.create_index(op.f("ix_list_file_sha256"), "list_file", ["sha256"], unique=False)
    op.create_index(op.f("ix_list_file_sent_at"), "list_file", ["sent_at"], unique=False)
    op.create_table(
        "list_thing",
        sa.Column("list_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("thing_id", sa.Uuid(), nullable=False),
        sa.Column("line", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["list_id"], ["list_file.id"], name=op.f("fk_list_thing_list_id")),
        sa.PrimaryKeyConstraint("list_id", "kind", "thing_id", name=op.f("pk_list_thing")),
    )
    op.create_index("ix_list_thing_thing", "list_thing", ["thing_id"], unique=False)


def downgrade() -> None:
    op.drop_index("ix_list_thing_thing", table_name="list_thing")
    op.drop_table("list_thing")
    op.drop_index(op.f("ix_list_file_sent_at"), table_name="list_file")
    op.drop_index(op.f("ix_list_file_sha256"), table_name="list_file")
    op.drop_table("list_file")
