"""The takeoff's proof is a package of its own: it may import nouns and units, never the rooms that it judges."""

from __future__ import annotations

import ast

from tests.shared import ROOT

ALLOWED = ("solver.units", "solver.errors", "solver.field_limits", "solver.domain", "solver.takeoff.check")


def test_the_proof_of_a_takeoff_imports_nothing_of_the_takeoff() -> None:
    paths = sorted((ROOT / "solver" / "takeoff" / "check").glob("*.py"))
    assert len(paths) > 5
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("solver"):
                assert any(f"{node.module}.".startswith(f"{okay}.") for okay in ALLOWED), f"{path.name} imports {node.module}"
            elif isinstance(node, ast.Import):
                assert not any(alias.name.startswith("solver") for alias in node.names), path.name
