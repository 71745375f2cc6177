"""Running numbers of bars, and which making of its piece a cut is: plans go on from the bars of those before them."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; bars that are there are numbered through, plan by plan, in cut order."""
    op.add_column("bars", sa.Column("number", sa.Integer(), nullable=False, server_default="0"))
    op.add_column("cuts", sa.Column("making", sa.Integer(), nullable=False, server_default="1"))
    bars = sa.table("bars", *(sa.column(name) for name in ("plan", "id", "machine", "position", "number")))
    store = op.get_bind()
    there = store.execute(sa.select(bars.c.plan, bars.c.id).order_by(bars.c.plan, bars.c.machine, bars.c.position)).all()
    if there:
        one = (bars.c.plan == sa.bindparam("of_plan")) & (bars.c.id == sa.bindparam("bar"))
        store.execute(
            sa.update(bars).where(one).values(number=sa.bindparam("n")),
            [{"of_plan": row.plan, "bar": row.id, "n": n} for n, row in enumerate(there, 1)],
        )


def downgrade() -> None:
    """Take back."""
    op.drop_column("cuts", "making")
    op.drop_column("bars", "number")
