"""What a person decided of an order: withdrawn, held back, no longer held back."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "order_decisions",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("order", sa.String(length=2000), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.CheckConstraint("kind IN ('withdrawn', 'held', 'freed')", name="ck_order_decisions_kind"),
        sa.PrimaryKeyConstraint("number", name="pk_order_decisions"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_order_decisions_order", "order_decisions", ["order"])


def downgrade() -> None:
    """Take back."""
    op.drop_table("order_decisions")
