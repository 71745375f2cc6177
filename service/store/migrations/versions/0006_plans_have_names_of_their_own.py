"""Plans have names of their own, apart from the jobs that make them: `P` and a running number, in the order in which
they were made. A choice of a replan is a plan of the replan's job; the job that was made up for it stays, so that what
was kept of its address still leads to the plan."""

import json
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

NAMING = ("plan_parts", "documents", "releases", "bars", "cuts", "loads", "bundles", "bundle_pieces", "events", "jobs")
KEYS = {  # of PostgreSQL, which looks at each row as it is written: taken away meanwhile
    "fk_plan_parts_plan_plans": ("plan_parts", "plan", "plans", "id"),
    "fk_documents_plan_plans": ("documents", "plan", "plans", "id"),
    "fk_releases_plan_plans": ("releases", "plan", "plans", "id"),
    "fk_bars_plan_plans": ("bars", "plan", "plans", "id"),
    "fk_loads_plan_plans": ("loads", "plan", "plans", "id"),
    "fk_bundles_plan_plans": ("bundles", "plan", "plans", "id"),
    "fk_cuts_plan_bar_bars": ("cuts", "plan,bar", "bars", "plan,id"),
    "fk_bundle_pieces_plan_bundle_bundles": ("bundle_pieces", "plan,bundle", "bundles", "plan,id"),
}


def upgrade() -> None:
    """Apply."""
    op.create_table(
        "plan_numbers",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_plan_numbers")),
        sqlite_autoincrement=True,
    )
    op.add_column("plans", sa.Column("job", sa.String(length=32), nullable=True))
    op.add_column("plans", sa.Column("faults", sa.Text(), server_default="[]", nullable=False))
    op.create_index("ix_plans_made_at", "plans", ["made_at"])
    op.create_table(
        "plan_orders",
        sa.Column("plan", sa.String(length=64), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("order", sa.String(length=2000), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["plan"], ["plans.id"], name=op.f("fk_plan_orders_plan_plans")),
        sa.PrimaryKeyConstraint("plan", "position", name=op.f("pk_plan_orders")),
    )
    op.create_index("ix_plan_orders_order", "plan_orders", ["order"])
    connection = op.get_bind()
    names = _new_names(connection)
    _rename(connection, names)
    _rename_in_jobs(connection, names)
    _tell_who_made_them(connection)
    _tell_of_which_orders(connection, names)


def _new_names(connection: sa.Connection) -> dict[str, str]:
    names = {}
    for plan in connection.execute(sa.text("SELECT id FROM plans ORDER BY made_at, id")).scalars().all():
        number = connection.execute(sa.text("INSERT INTO plan_numbers DEFAULT VALUES RETURNING number")).scalar_one()
        names[plan] = f"P{number}"
    return names


def _rename(connection: sa.Connection, names: Mapping[str, str]) -> None:
    if not names:
        return
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        connection.execute(sa.text("PRAGMA defer_foreign_keys = ON"))
    else:
        for key, (table, *_) in KEYS.items():
            op.drop_constraint(key, table, type_="foreignkey")
    connection.execute(sa.text("CREATE TEMPORARY TABLE renamed (old VARCHAR(64) PRIMARY KEY, new VARCHAR(64))"))
    rows = [{"old": old, "new": new} for old, new in names.items()]
    connection.execute(sa.text("INSERT INTO renamed (old, new) VALUES (:old, :new)"), rows)
    for table, column in (("plans", "id"), *((table, "plan") for table in NAMING)):
        new = f"SELECT new FROM renamed WHERE renamed.old = {table}.{column}"
        connection.execute(sa.text(f"UPDATE {table} SET {column} = ({new}) WHERE {column} IN (SELECT old FROM renamed)"))
    connection.execute(sa.text("DROP TABLE renamed"))
    if not sqlite:
        for key, (table, columns, target, theirs) in KEYS.items():
            op.create_foreign_key(key, table, target, columns.split(","), theirs.split(","))


def _rename_in_jobs(connection: sa.Connection, names: Mapping[str, str]) -> None:
    """In what was asked for and answered plans bear their names too; the jobs of plans are nobody's business there."""
    said = sa.text("UPDATE jobs SET wanted = :wanted, answer = :answer WHERE id = :id")
    owner = sa.text("UPDATE plans SET job = :job WHERE id = :plan")
    for row in connection.execute(sa.text("SELECT id, kind, wanted, answer FROM jobs")).all():
        wanted, answer = json.loads(row.wanted), None if row.answer is None else json.loads(row.answer)
        wanted.pop("of", None)
        for field in ("plan", "predecessor"):
            if field in wanted:
                wanted[field] = names.get(wanted[field], wanted[field])
        for choice in (answer or {}).get("choices", ()) if row.kind == "replan" else ():
            choice.pop("id", None)
            choice["plan"] = names.get(choice["plan"], choice["plan"])
            connection.execute(owner, {"job": row.id, "plan": choice["plan"]})
        told = None if answer is None else json.dumps(answer, sort_keys=True, separators=(",", ":"))
        connection.execute(said, {"wanted": json.dumps(wanted), "answer": told, "id": row.id})


def _tell_who_made_them(connection: sa.Connection) -> None:
    """The first job of which a plan came made it; faults of a done one are of its sheets."""
    first = "SELECT {} FROM jobs WHERE jobs.plan = plans.id AND status = 'done' ORDER BY asked_at, id LIMIT 1"
    connection.execute(sa.text(f"UPDATE plans SET faults = COALESCE(({first.format('faults')}), '[]')"))
    connection.execute(sa.text(f"UPDATE plans SET job = ({first.format('id')}) WHERE job IS NULL"))


def _tell_of_which_orders(connection: sa.Connection, names: Mapping[str, str]) -> None:
    add = sa.text('INSERT INTO plan_orders (plan, position, "order", revision) VALUES (:plan, :position, :order, :revision)')
    said = sa.text("UPDATE plans SET manifest = :manifest WHERE id = :plan")
    for plan in names.values():  # one at a time: some are large
        text = connection.execute(sa.text("SELECT manifest FROM plans WHERE id = :plan"), {"plan": plan}).scalar_one()
        begins = text.index("{")  # after the number of its form
        manifest: dict[str, Any] = json.loads(text[begins:])
        if manifest.get("predecessor") is not None:
            manifest["predecessor"] = names.get(manifest["predecessor"], manifest["predecessor"])
        if "id" in manifest:
            manifest["id"] = plan
        body = json.dumps(manifest, ensure_ascii=False, separators=(",", ":"))
        connection.execute(said, {"manifest": text[:begins] + body, "plan": plan})
        for n, order in enumerate(manifest.get("orders", ())):
            values = {"plan": plan, "position": n, "order": order["id"], "revision": order["revision"]}
            connection.execute(add, values)


def downgrade() -> None:
    """Take back: plans keep their names, and a job is made up again for each that only a replan's job made."""
    connection = op.get_bind()
    _make_jobs_up(connection)
    op.drop_table("plan_orders")
    op.drop_index("ix_plans_made_at", table_name="plans")
    op.drop_column("plans", "faults")
    op.drop_column("plans", "job")
    op.drop_table("plan_numbers")


def _make_jobs_up(connection: sa.Connection) -> None:
    add = sa.text(
        "INSERT INTO jobs (id, kind, status, wanted, doing, fraction, asked_at, ended_at, lease_ms, sent_ms, not_before_ms,"
        " deaths, cancel_asked, keep_asked, plan, faults) SELECT :id, 'plan', 'done', :wanted, 'done', 1, made_at, made_at,"
        " 0, 0, 0, 0, false, false, id, faults FROM plans WHERE id = :plan"
    )
    jobs = dict(connection.execute(sa.text("SELECT plan, MIN(id) FROM jobs WHERE plan IS NOT NULL GROUP BY plan")).all())
    for plan, text in connection.execute(sa.text("SELECT id, manifest FROM plans")).all():
        if plan not in jobs:
            manifest = json.loads(text[text.index("{") :])
            wanted = {"orders": manifest["orders"], "seconds": 1, "seed": 1, "epoch": manifest["epoch"]}
            wanted |= {"predecessor": manifest["predecessor"]} if manifest.get("predecessor") else {}
            jobs[plan] = f"{int(plan[1:]):032x}"
            connection.execute(add, {"id": jobs[plan], "wanted": json.dumps(wanted), "plan": plan})
    said = sa.text("UPDATE jobs SET wanted = :wanted, answer = :answer WHERE id = :id")
    for row in connection.execute(sa.text("SELECT id, wanted, answer FROM jobs WHERE kind IN ('promise', 'replan')")).all():
        wanted, answer = json.loads(row.wanted), None if row.answer is None else json.loads(row.answer)
        wanted["of"] = jobs[wanted["plan"]]
        for choice in (answer or {}).get("choices", ()):
            choice["id"] = jobs[choice["plan"]]
        told = None if answer is None else json.dumps(answer, sort_keys=True, separators=(",", ":"))
        connection.execute(said, {"wanted": json.dumps(wanted), "answer": told, "id": row.id})
