"""What the fast suite leaves out exists, and is not everything of its kind."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.slow import SLOW

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("name", SLOW)
def test_what_is_called_slow_is_there(name: str) -> None:
    """A test that was renamed would otherwise slip back into the fast suite, or leave a dead line here."""
    file, _, test = name.partition("::")
    tree = ast.parse((ROOT / file).read_text())
    names = {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    assert not test or test.partition("[")[0] in names
    assert SLOW[name]


def test_both_suites_are_run_by_the_commands_that_say_so() -> None:
    make = (ROOT / "Makefile").read_text()
    fast, whole = make.split("\ntest: ")[1].split("\n\n")[0], make.split("\ntest-all: ")[1].split("\n\n")[0]
    assert '-m "not slow"' in fast
    assert "slow" not in whole
    assert "make test-all\nmake lint\n" in (ROOT / ".ci" / "run").read_text()
