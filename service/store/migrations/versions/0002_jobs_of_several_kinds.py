"""Jobs of several kinds, and the answer of one that makes no plan; what was asked for before is plans."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply."""
    op.add_column("jobs", sa.Column("kind", sa.String(length=20), server_default="plan", nullable=False))
    op.add_column("jobs", sa.Column("answer", sa.Text(), nullable=True))


def downgrade() -> None:
    """Take back; jobs that are no plans go too, for the first shape cannot tell them apart."""
    op.execute(sa.text("DELETE FROM jobs WHERE kind <> 'plan'"))
    op.drop_column("jobs", "answer")
    op.drop_column("jobs", "kind")
