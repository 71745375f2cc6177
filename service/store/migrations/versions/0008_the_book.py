"""The book: events in the form of their kinds, and where each thing is; what was told before is placed when first opened."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None
NAME = sa.String(length=2000)


def upgrade() -> None:
    """Apply."""
    for column in (
        sa.Column("actor", NAME, nullable=True),
        sa.Column("counter", sa.BigInteger(), nullable=True),
        sa.Column("release", NAME, nullable=True),
        sa.Column("body", sa.Text(), nullable=True),
        sa.Column("stands", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("placed", sa.Boolean(), server_default=sa.false(), nullable=False),
    ):
        op.add_column("events", column)
    op.create_table(
        "event_things",
        sa.Column("thing", sa.String(length=10), nullable=False),
        sa.Column("name", NAME, nullable=False),
        sa.Column("seq", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.ForeignKeyConstraint(["seq"], ["events.seq"], name="fk_event_things_seq_events"),
        sa.PrimaryKeyConstraint("thing", "name", "seq", name="pk_event_things"),
    )
    op.create_index("ix_event_things_seq", "event_things", ["seq"])
    _state_table("piece_states", sa.Column("making", sa.Integer(), nullable=False), "bar", "bundle")
    _state_table("bar_states", sa.Column("item", sa.BigInteger(), nullable=True))
    _state_table("bundle_states", None, "load")
    _state_table("load_states", None)
    _state_table("label_states", None)
    op.create_index("ix_piece_states_state", "piece_states", ["state"])
    op.create_index("ix_piece_states_bundle", "piece_states", ["bundle"])
    op.create_index("ix_bundle_states_load", "bundle_states", ["load"])
    op.create_table(
        "stock_items",
        sa.Column("item", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("stock", sa.String(length=10), nullable=False),
        sa.Column("material", NAME, nullable=False),
        sa.Column("length_nm", sa.BigInteger(), nullable=True),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("reserved", sa.Integer(), nullable=False),
        sa.Column("place", NAME, nullable=True),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("item", name="pk_stock_items"),
    )
    op.create_index("ix_stock_items_material_length_nm", "stock_items", ["material", "length_nm"])
    op.create_table(
        "questions",
        sa.Column("id", sa.String(length=120), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("thing", sa.String(length=10), nullable=False),
        sa.Column("name", NAME, nullable=False),
        sa.Column("at", sa.String(length=40), nullable=False),
        sa.Column("open", sa.Boolean(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_questions"),
    )
    op.create_index("ix_questions_thing_name", "questions", ["thing", "name"])
    op.create_index("ix_questions_open_at", "questions", ["open", "at"])


def _state_table(name: str, number: sa.Column[int] | None, *names: str) -> None:
    op.create_table(
        name,
        sa.Column("name", NAME, nullable=False),
        *([] if number is None else [number]),
        sa.Column("state", sa.String(length=10), nullable=False),
        *(sa.Column(one, NAME, nullable=True) for one in names),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=f"pk_{name}"),
    )


def downgrade() -> None:
    """Take back."""
    for name in (
        *("questions", "stock_items", "label_states", "load_states", "bundle_states", "bar_states", "piece_states"),
        "event_things",
    ):
        op.drop_table(name)
    for column in ("placed", "stands", "body", "release", "counter", "actor"):
        op.drop_column("events", column)
