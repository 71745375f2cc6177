"""A transaction that writes holds nothing but its statements: what holds all tests to it notices, and no block breaks it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from service.stored_form import from_stored_text, to_stored_text
from solver.codec import decode, encode
from solver.domain.plant import Plant
from tests.plans import demo_buildings, demo_plant
from tests.service_fakes import order_document
from tests.writing import watched

ROOT = Path(__file__).resolve().parents[2]
THINKS = {
    *(
        "from_stored_text",
        "read_parts",
        "stored_plan",
        "part_as_public_json",
        "to_stored_text",
        "written_parts",
        "plan_contents",
    ),
    *(
        "plan_manifest",
        "decode",
        "encode",
        "canonical_json",
        "read_order",
        "take_off",
        "plan_vocabulary",
        "FloorRows",
        "loads",
        "dumps",
    ),
}
BOUND_TO = {"tx"}  # `tx.floor.loads` is a statement


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqlStore]:
    made = SqlStore(f"sqlite:///{tmp_path}/store.db")
    upgrade_store(made.engine)
    yield made
    made.engine.dispose()


def test_who_thinks_while_a_writer_is_open_is_noticed(store: SqlStore, monkeypatch: pytest.MonkeyPatch) -> None:
    from solver.reading.read_order import read_order

    text, found = to_stored_text(demo_plant()), list[str]()
    monkeypatch.setattr(SqlStore, "writing", watched(found))
    with store.writing():
        from_stored_text(Plant, text)
        to_stored_text(demo_plant())
        decode(Plant, encode(demo_plant()), name="plant", unit="mm")
        read_order(order_document(), demo_plant())
    assert found[:4] == ["from_stored_text of Plant", "to_stored_text of Plant", "encode of Plant", "decode of Plant"]
    assert any(told.startswith("solver/reading/read_order.py: ") for told in found)
    found.clear()
    from_stored_text(Plant, text)
    with store.reading():
        from_stored_text(Plant, text)
    assert found == []
    assert demo_buildings()


def writers() -> list[tuple[str, int, ast.With]]:
    found = []
    for top in ("service", "worker"):
        for path in sorted((ROOT / top).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.With) and any("writing()" in ast.unparse(item) for item in node.items):
                    found.append((path.relative_to(ROOT).as_posix(), node.lineno, node))
    return found


def thoughts(block: ast.With) -> list[str]:
    """The calls in a block that think, by name; what is asked of the transaction itself is a statement."""
    found = []
    for node in (inner for line in block.body for inner in ast.walk(line) if isinstance(inner, ast.Call)):
        name = ast.unparse(node.func)
        if name.partition(".")[0] not in BOUND_TO and name.rpartition(".")[2] in THINKS:
            found.append(name)
    return found


def test_no_block_that_writes_calls_what_thinks() -> None:
    blocks = writers()
    assert len(blocks) >= 20
    assert {f"{path}:{line}": told for path, line, block in blocks if (told := thoughts(block))} == {}


def test_a_block_that_thinks_is_noticed() -> None:
    (block,) = ast.parse("with store.writing() as tx:\n    tx.plans.add(to_stored_text(plan), tx.floor.loads(plan))\n").body
    assert isinstance(block, ast.With)
    assert thoughts(block) == ["to_stored_text"]
