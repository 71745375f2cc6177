"""How far each stage of a plan is while it is made, and whether someone asked to stop and keep what it has."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.add_column("jobs", sa.Column("keep_asked", sa.Boolean(), server_default=sa.false(), nullable=False))
    op.add_column("jobs", sa.Column("making", sa.Text(), nullable=True))


def downgrade() -> None:
    """Take back."""
    op.drop_column("jobs", "making")
    op.drop_column("jobs", "keep_asked")
