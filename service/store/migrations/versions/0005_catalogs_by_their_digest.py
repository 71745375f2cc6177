"""The catalogs that plans were asked for with, each once, by the digest that their jobs name."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "catalogs",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("first_used_at", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_catalogs"),
    )


def downgrade() -> None:
    """Take back."""
    op.drop_table("catalogs")
