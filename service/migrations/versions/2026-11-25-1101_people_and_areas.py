"""People and areas."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_01_members"
down_revision = "20261125_00_lib"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "area",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=300), nullable=False),
        sa.Column("authority", sa.String(length=300), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("checked_on", sa.Date(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area")),
        sa.UniqueConstraint("name", name=op.f("uq_area_name")),
    )
    op.create_table(
        "club",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("short_name", sa.String(length=24), nullable=False),
        sa.Column("zone", sa.String(length=60), nullable=False),
        sa.Column("recall_look_back_winters", sa.Integer(), nullable=False),
        sa.Column("next_tree_number", sa.Integer(), nullable=False),
        sa.Column("next_plant_number", sa.Integer(), nullable=False),
        sa.Column("next_graft_number", sa.Integer(), nullable=False),
        sa.Column("next_collection_number", sa.Integer(), nullable=False),
        sa.Column("last_backup_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_club_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_club")),
    )
    op.create_table(
        "party",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("name", sa.String(length=300), nullable=False),
        sa.Column("name_folded", sa.String(length=400), nullable=False),
        sa.Column("contact", sa.String(length=500), nullable=False),
        sa.Column("area_id", sa.Uuid(), nullable=True),
        sa.Column("keep_contact_for_recall", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("forgotten_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind in ('member', 'guest', 'club')", name=op.f("ck_party_kind")),
        sa.ForeignKeyConstraint(["area_id"], ["area.id"], name=op.f("fk_party_area_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_party")),
    )
    with op.batch_alter_table("party", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_party_name_folded"), ["name_folded"], unique=False)
    op.create_table(
        "account",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("party_id", sa.Uuid(), nullable=False),
        sa.Column("sign_in_name", sa.String(length=200), nullable=False),
        sa.Column("sign_in_folded", sa.String(length=300), nullable=False),
        sa.Column("password_hash", sa.String(length=300), nullable=False),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("disabled_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_account_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_account")),
        sa.UniqueConstraint("party_id", name=op.f("uq_account_party_id")),
        sa.UniqueConstraint("sign_in_folded", name=op.f("uq_account_sign_in_folded")),
    )
    op.create_table(
        "area_permit",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("from_area_id", sa.Uuid(), nullable=False),
        sa.Column("to_area_id", sa.Uuid(), nullable=False),
        sa.Column("reference", sa.String(length=300), nullable=False),
        sa.Column("allows", sa.Boolean(), nullable=False),
        sa.Column("genus", sa.String(length=100), nullable=False),
        sa.Column("answered_on", sa.Date(), nullable=False),
        sa.Column("valid_until", sa.Date(), nullable=True),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_area_permit_by_party_id")),
        sa.ForeignKeyConstraint(["from_area_id"], ["area.id"], name=op.f("fk_area_permit_from_area_id")),
        sa.ForeignKeyConstraint(["to_area_id"], ["area.id"], name=op.f("fk_area_permit_to_area_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_area_permit")),
    )
    with op.batch_alter_table("area_permit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_area_permit_from_area_id"), ["from_area_id"], unique=False)
    op.create_table(
        "invitation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("party_id", sa.Uuid(), nullable=True),
        sa.Column("roles", sa.String(length=200), nullable=False),
        sa.Column("note", sa.String(length=300), nullable=False),
        sa.Column("made_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("expires_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("used_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("revoked_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["made_by_party_id"], ["party.id"], name=op.f("fk_invitation_made_by_party_id")
        ),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_invitation_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_invitation_token_sha256")),
    )
    op.create_table(
        "party_role",
        sa.Column("party_id", sa.Uuid(), nullable=False),
        sa.Column("role", sa.String(length=24), nullable=False),
        sa.Column("given_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_party_role_party_id")),
        sa.PrimaryKeyConstraint("party_id", "role", name=op.f("pk_party_role")),
    )
    op.create_table(
        "recall_contact",
        sa.Column("party_id", sa.Uuid(), nullable=False),
        sa.Column("contact", sa.String(length=500), nullable=False),
        sa.Column("until", sa.Date(), nullable=False),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_recall_contact_party_id")),
        sa.PrimaryKeyConstraint("party_id", name=op.f("pk_recall_contact")),
    )
    op.create_table(
        "api_token",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("account_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("scopes", sa.String(length=500), nullable=False),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("expires_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("last_used_on", sa.Date(), nullable=True),
        sa.Column("revoked_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_api_token_account_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_api_token_token_sha256")),
    )
    with op.batch_alter_table("api_token", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_api_token_account_id"), ["account_id"], unique=False)
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("account_id", sa.Uuid(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("csrf_token", sa.String(length=64), nullable=False),
        sa.Column("device", sa.String(length=300), nullable=False),
        sa.Column("created_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("expires_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("revoked_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["account_id"], ["account.id"], name=op.f("fk_sign_in_account_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_sign_in_token_sha256")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_account_id"), ["account_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_account_id"))
    op.drop_table("sign_in")
    with op.batch_alter_table("api_token", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_api_token_account_id"))
    op.drop_table("api_token")
    op.drop_table("recall_contact")
    op.drop_table("party_role")
    op.drop_table("invitation")
    with op.batch_alter_table("area_permit", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_area_permit_from_area_id"))
    op.drop_table("area_permit")
    op.drop_table("account")
    with op.batch_alter_table("party", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_party_name_folded"))
    op.drop_table("party")
    op.drop_table("club")
    op.drop_table("area")
