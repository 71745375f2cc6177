"""What pages read of a plan as rows: its operations, what it moves, its names, and extracts of its largest parts.

Plans that are stored already get their rows when a page first asks for them: only today's version reads every earlier form.
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

NAME = sa.String(length=2000)


def _plan() -> sa.Column[str]:
    return sa.Column("plan", sa.String(length=64), nullable=False)


def _of_plan(table: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(["plan"], ["plans.id"], name=f"fk_{table}_plan_plans")


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "extracts",
        _plan(),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        _of_plan("extracts"),
        sa.PrimaryKeyConstraint("plan", "kind", name="pk_extracts"),
    )
    op.create_table(
        "operations",
        _plan(),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("id", NAME, nullable=False),
        sa.Column("machine", NAME, nullable=False),
        sa.Column("start_s", sa.BigInteger(), nullable=False),
        sa.Column("until_s", sa.BigInteger(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        _of_plan("operations"),
        sa.PrimaryKeyConstraint("plan", "n", name="pk_operations"),
    )
    op.create_index("ix_operations_plan_id", "operations", ["plan", "id"])
    op.create_index("ix_operations_plan_start_s_until_s", "operations", ["plan", "start_s", "until_s"])
    op.create_table(
        "moves",
        _plan(),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("new_n", sa.Integer(), nullable=True),
        sa.Column("start_s", sa.BigInteger(), nullable=True),
        sa.Column("end_s", sa.BigInteger(), nullable=True),
        sa.Column("machine", NAME, nullable=True),
        sa.Column("body", sa.Text(), nullable=True),
        _of_plan("moves"),
        sa.PrimaryKeyConstraint("plan", "n", name="pk_moves"),
    )
    op.create_index("ix_moves_plan_start_s_end_s", "moves", ["plan", "start_s", "end_s"])
    op.create_index("ix_moves_plan_new_n", "moves", ["plan", "new_n"])
    op.create_table(
        "names",
        _plan(),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("name", NAME, nullable=False),
        sa.Column("number", sa.Integer(), nullable=True),
        _of_plan("names"),
        sa.PrimaryKeyConstraint("plan", "kind", "name", name="pk_names"),
    )


def downgrade() -> None:
    """Take back."""
    for table in ("names", "moves", "operations", "extracts"):
        op.drop_table(table)
