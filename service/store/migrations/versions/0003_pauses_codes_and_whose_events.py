"""Jobs that are begun again after a pause; short codes as rows; of which plan's bar an event tells."""

import hashlib

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Apply; events get the plan that was on the floor then, bars the digest of their pieces; codes are found the long way."""
    op.add_column("jobs", sa.Column("not_before_ms", sa.BigInteger(), server_default="0", nullable=False))
    op.add_column("bars", sa.Column("pieces_digest", sa.String(length=16), server_default="", nullable=False))
    op.add_column("events", sa.Column("plan", sa.String(length=64), nullable=True))
    op.add_column("bundle_pieces", sa.Column("code", sa.String(length=20), nullable=True))
    op.create_index("ix_bundle_pieces_plan_code", "bundle_pieces", ["plan", "code"])
    then = "SELECT plan FROM releases WHERE released_at <= events.received_at ORDER BY number DESC LIMIT 1"
    op.execute(sa.text(f"UPDATE events SET plan = ({then})"))
    _tell_bars_apart(op.get_bind())


def _tell_bars_apart(connection: sa.Connection) -> None:
    pieces: dict[tuple[str, str], list[str]] = {}
    for row in connection.execute(sa.text("SELECT plan, bar, piece FROM cuts ORDER BY plan, bar, n")):
        pieces.setdefault((row.plan, row.bar), []).append(row.piece)
    said = sa.text("UPDATE bars SET pieces_digest = :digest WHERE plan = :plan AND id = :id")
    for (plan, bar), names in pieces.items():
        digest = hashlib.sha256("\0".join(names).encode()).hexdigest()[:16]
        connection.execute(said, {"digest": digest, "plan": plan, "id": bar})


def downgrade() -> None:
    """Take back."""
    op.drop_index("ix_bundle_pieces_plan_code", table_name="bundle_pieces")
    op.drop_column("bundle_pieces", "code")
    op.drop_column("events", "plan")
    op.drop_column("bars", "pieces_digest")
    op.drop_column("jobs", "not_before_ms")
