"""The tables: orders, jobs, plans and their parts, what the floor's pages read, and the ledger of what happened."""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Float,
    ForeignKey,
    ForeignKeyConstraint,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
)

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata = MetaData(naming_convention=NAMES)
INSTANT = String(40)  # ISO 8601 in UTC, fixed width: sorts as it reads
NAME = String(2000)
DIGEST = String(64)

orders = Table(
    "orders",
    metadata,
    Column("id", NAME, primary_key=True),
    Column("revision", Integer, primary_key=True),
    Column("name", NAME, nullable=False),
    Column("need_by", String(80)),
    Column("received_at", INSTANT, nullable=False),
    Column("digest", DIGEST, nullable=False),
    Column("document", Text, nullable=False),
)

jobs = Table(
    "jobs",
    metadata,
    Column("id", String(32), primary_key=True),
    Column("kind", String(20), nullable=False, server_default="plan"),
    Column("status", String(20), nullable=False),
    Column("wanted", Text, nullable=False),
    Column("doing", NAME, nullable=False),
    Column("fraction", Float, nullable=False),
    Column("asked_at", INSTANT, nullable=False),
    Column("started_at", INSTANT),
    Column("ended_at", INSTANT),
    Column("owner", String(32)),
    Column("lease_ms", BigInteger, nullable=False),
    Column("sent_ms", BigInteger, nullable=False),
    Column("deaths", Integer, nullable=False),
    Column("cancel_asked", Boolean, nullable=False),
    Column("plan", DIGEST),
    Column("answer", Text),
    Column("faults", Text, nullable=False),
    CheckConstraint("status IN ('waiting', 'working', 'done', 'failed', 'cancelled')", name="status"),
    Index(None, "status", "asked_at"),
)

parts = Table(
    "parts",
    metadata,
    Column("digest", DIGEST, primary_key=True),
    Column("body", Text, nullable=False),
)

plans = Table(
    "plans",
    metadata,
    Column("id", DIGEST, primary_key=True),
    Column("made_at", INSTANT, nullable=False),
    Column("manifest", Text, nullable=False),
)

plan_parts = Table(
    "plan_parts",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("stage", String(20), nullable=False),
    Column("about", NAME, nullable=False),
    Column("digest", DIGEST, ForeignKey("parts.digest"), nullable=False, index=True),
)

documents = Table(
    "documents",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("name", String(300), primary_key=True),
    Column("media_type", String(100), nullable=False),
    Column("body", LargeBinary, nullable=False),
)

releases = Table(
    "releases",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("plan", DIGEST, ForeignKey("plans.id"), nullable=False),
    Column("released_at", INSTANT, nullable=False),
)

bars = Table(
    "bars",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("id", NAME, primary_key=True),
    Column("machine", NAME, nullable=False),
    Column("position", Integer, nullable=False),
    Column("keep_drop", Boolean, nullable=False),
    Column("body", Text, nullable=False),
    Index(None, "plan", "machine", "position"),
)

cuts = Table(
    "cuts",
    metadata,
    Column("plan", DIGEST, primary_key=True),
    Column("bar", NAME, primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("piece", NAME, nullable=False),
    Column("body", Text, nullable=False),
    ForeignKeyConstraint(["plan", "bar"], ["bars.plan", "bars.id"]),
    Index(None, "plan", "piece"),
)

loads = Table(
    "loads",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("id", NAME, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("body", Text, nullable=False),
)

bundles = Table(
    "bundles",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("id", NAME, primary_key=True),
    Column("position", Integer, nullable=False),
    Column("serial", String(40), nullable=False),
    Column("load", NAME),
    Column("load_place", Integer),
    Column("body", Text, nullable=False),
    Index(None, "plan", "load", "load_place"),
)

bundle_pieces = Table(
    "bundle_pieces",
    metadata,
    Column("plan", DIGEST, primary_key=True),
    Column("bundle", NAME, primary_key=True),
    Column("place", Integer, primary_key=True),
    Column("piece", NAME, nullable=False),
    ForeignKeyConstraint(["plan", "bundle"], ["bundles.plan", "bundles.id"]),
    Index(None, "plan", "piece"),
)

events = Table(
    "events",
    metadata,
    Column("seq", BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=True),
    Column("id", String(80), nullable=False, unique=True),
    Column("kind", String(20), nullable=False),
    Column("at", String(80), nullable=False),
    Column("received_at", INSTANT, nullable=False),
    Column("station", NAME, nullable=False),
    Column("subject", NAME, nullable=False, index=True),
    Column("about", NAME, index=True),
    Column("reason", NAME),
    sqlite_autoincrement=True,
)
