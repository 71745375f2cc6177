"""The tables: orders, jobs, catalogs, plans and their parts, what pages of plans and the floor read, the ledger of events."""

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
    false,
    true,
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

order_decisions = Table(  # what a person decided of an order, never deleted: the last row of a kind counts
    "order_decisions",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    Column("order", NAME, nullable=False, index=True),
    Column("revision", Integer, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("at", INSTANT, nullable=False),
    CheckConstraint("kind IN ('withdrawn', 'held', 'freed')", name="kind"),
    sqlite_autoincrement=True,
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
    Column("not_before_ms", BigInteger, nullable=False, server_default="0"),
    Column("deaths", Integer, nullable=False),
    Column("cancel_asked", Boolean, nullable=False),
    Column("keep_asked", Boolean, nullable=False, server_default=false()),
    Column("making", Text),  # how far it is, as JSON, while it is made
    Column("plan", DIGEST),
    Column("answer", Text),
    Column("faults", Text, nullable=False),
    CheckConstraint("status IN ('waiting', 'working', 'done', 'failed', 'cancelled')", name="status"),
    Index(None, "status", "asked_at"),
)

catalogs = Table(
    "catalogs",
    metadata,
    Column("digest", DIGEST, primary_key=True),
    Column("body", Text, nullable=False),
    Column("first_used_at", INSTANT, nullable=False),
)

parts = Table(
    "parts",
    metadata,
    Column("digest", DIGEST, primary_key=True),
    Column("body", Text, nullable=False),
)

plan_numbers = Table(  # the running numbers given to plans, each once
    "plan_numbers",
    metadata,
    Column("number", Integer, primary_key=True, autoincrement=True),
    sqlite_autoincrement=True,
)

plans = Table(
    "plans",
    metadata,
    Column("id", DIGEST, primary_key=True),
    Column("made_at", INSTANT, nullable=False),
    Column("manifest", Text, nullable=False),
    Column("job", String(32)),  # that made it
    Column("faults", Text, nullable=False, server_default="[]"),  # of its sheets
    Index(None, "made_at"),
)

plan_orders = Table(
    "plan_orders",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("order", NAME, nullable=False, index=True),
    Column("revision", Integer, nullable=False),
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

extracts = Table(
    "extracts",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("kind", String(20), primary_key=True),
    Column("body", Text, nullable=False),
)

operations = Table(
    "operations",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("id", NAME, nullable=False),
    Column("machine", NAME, nullable=False),
    Column("start_s", BigInteger, nullable=False),
    Column("until_s", BigInteger, nullable=False),  # its end, and what sets after it
    Column("body", Text, nullable=False),
    Index(None, "plan", "id"),
    Index(None, "plan", "start_s", "until_s"),
)

moves = Table(
    "moves",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("n", Integer, primary_key=True),  # the longest first
    Column("kind", String(20), nullable=False),
    Column("new_n", Integer),  # the operation of this plan; none where it is gone
    Column("start_s", BigInteger),  # of the operation before, on this plan's clock; none where it is new
    Column("end_s", BigInteger),
    Column("machine", NAME),
    Column("body", Text),
    Index(None, "plan", "start_s", "end_s"),
    Index(None, "plan", "new_n"),
)

names = Table(
    "names",
    metadata,
    Column("plan", DIGEST, ForeignKey("plans.id"), primary_key=True),
    Column("kind", String(20), primary_key=True),
    Column("name", NAME, primary_key=True),
    Column("number", Integer),  # of a bar on its machine
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
    Column("pieces_digest", String(16), nullable=False, server_default=""),
    Column("number", Integer, nullable=False, server_default="0"),  # running, of the plant: a bar keeps it over plans
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
    Column("making", Integer, nullable=False, server_default="1"),  # which time the piece is cut
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
    Column("code", String(20)),
    ForeignKeyConstraint(["plan", "bundle"], ["bundles.plan", "bundles.id"]),
    Index(None, "plan", "piece"),
    Index(None, "plan", "code"),
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
    Column("plan", DIGEST),
    Column("actor", NAME),
    Column("counter", BigInteger),
    Column("release", NAME),
    Column("body", Text),  # the event in the form of its kind
    Column("stands", Boolean, nullable=False, server_default=true()),  # not undone
    Column("placed", Boolean, nullable=False, server_default=false()),  # the tables below have it
    sqlite_autoincrement=True,
)

event_things = Table(
    "event_things",
    metadata,
    Column("thing", String(10), primary_key=True),
    Column("name", NAME, primary_key=True),
    Column("seq", BigInteger, ForeignKey("events.seq"), primary_key=True, index=True, autoincrement=False),
)

piece_states = Table(
    "piece_states",
    metadata,
    Column("name", NAME, primary_key=True),
    Column("making", Integer, nullable=False),
    Column("state", String(10), nullable=False, index=True),
    Column("bar", NAME),
    Column("bundle", NAME, index=True),
    Column("body", Text, nullable=False),
)

bar_states = Table(
    "bar_states",
    metadata,
    Column("name", NAME, primary_key=True),
    Column("state", String(10), nullable=False),
    Column("item", BigInteger),
    Column("body", Text, nullable=False),
)

bundle_states = Table(
    "bundle_states",
    metadata,
    Column("name", NAME, primary_key=True),
    Column("state", String(10), nullable=False),
    Column("load", NAME, index=True),
    Column("body", Text, nullable=False),
)

load_states = Table(
    "load_states",
    metadata,
    Column("name", NAME, primary_key=True),
    Column("state", String(10), nullable=False),
    Column("body", Text, nullable=False),
)

label_states = Table(
    "label_states",
    metadata,
    Column("name", NAME, primary_key=True),
    Column("state", String(10), nullable=False),
    Column("body", Text, nullable=False),
)

stock_items = Table(
    "stock_items",
    metadata,
    Column("item", BigInteger, primary_key=True, autoincrement=False),
    Column("stock", String(10), nullable=False),
    Column("material", NAME, nullable=False),
    Column("length_nm", BigInteger),
    Column("count", Integer, nullable=False),
    Column("reserved", Integer, nullable=False),
    Column("place", NAME),
    Column("body", Text, nullable=False),
    Index(None, "material", "length_nm"),
)

questions = Table(
    "questions",
    metadata,
    Column("id", String(120), primary_key=True),
    Column("kind", String(20), nullable=False),
    Column("thing", String(10), nullable=False),
    Column("name", NAME, nullable=False),
    Column("at", INSTANT, nullable=False),
    Column("open", Boolean, nullable=False),
    Column("body", Text, nullable=False),
    Index(None, "thing", "name"),
    Index(None, "open", "at"),
)
