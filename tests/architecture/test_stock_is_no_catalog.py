"""What is in stock is a snapshot beside the catalog: what a catalog's file states of it is read in one place."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.shared import ROOT

HOME = "solver/domain/plant.py"
STATED = {"stock_on_hand", "remnants", "coils", "cores"}


def readings(text: str) -> Iterator[int]:
    """Give the line of each place that reads stock off a catalog, or puts other stock into one."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Attribute) and node.attr in STATED:
            owner = node.value.attr if isinstance(node.value, ast.Attribute) else getattr(node.value, "id", "")
            if owner in ("plant", "catalog") or node.attr == "stock_on_hand":
                yield node.lineno
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "replace" and node.args:
            first = node.args[0]
            owner = first.attr if isinstance(first, ast.Attribute) else getattr(first, "id", "")
            if owner in ("plant", "catalog") and {word.arg for word in node.keywords} & STATED:
                yield node.lineno


@pytest.mark.parametrize("room", ["solver", "service", "worker"])
def test_no_stock_is_read_off_the_catalog(room: str) -> None:
    found = [
        f"{file}:{line}"
        for path in sorted((ROOT / room).rglob("*.py"))
        if (file := path.relative_to(ROOT).as_posix()) != HOME
        for line in readings(path.read_text(encoding="utf-8"))
    ]
    assert found == [], "stock comes as a StockSnapshot: `stock_of` of the floor, `stated_stock` of a catalog's file"


@pytest.mark.parametrize("text", ["self.plant.coils", "plant.stock_on_hand", "catalog.cores", "replace(plant, remnants=())"])
def test_the_places_are_seen(text: str) -> None:
    assert list(readings(text)) == [1]


def test_a_snapshot_is_free_to_read() -> None:
    assert list(readings("stock.coils, plant.stated_stock.remnants, replace(stock, remnants=())")) == []
