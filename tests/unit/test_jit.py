"""Compiled loops are kept for just the text that they are made of."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from solver import jit

INNER = """
from solver.jit import compiled

@compiled
def step():
    return {}
"""
OUTER = """
from solver.jit import compiled
from solver.part.inner import step

@compiled
def twice():
    return 2 * step()
"""


def package(tmp_path: Path) -> Path:
    """Return a package of the same name: one loop that calls another of another file, and a file of its own."""
    root = tmp_path / "solver"
    (root / "part").mkdir(parents=True)
    (root / "jit.py").write_bytes(Path(jit.__file__).read_bytes())
    texts = {"__init__": "", "part/__init__": "", "part/outer": OUTER, "part/inner": INNER.format(1), "other": "A = 1\n"}
    for name, text in texts.items():
        (root / f"{name}.py").write_text(text)
    return root


def test_a_change_of_what_loops_are_made_of_and_of_nothing_else_names_another_folder(tmp_path: Path) -> None:
    root = package(tmp_path)
    first = jit.folder(root)
    (root / "other.py").write_text("A = 2\n")
    assert jit.folder(root) == first
    (root / "part" / "inner.py").write_text(INNER.format(3))
    assert jit.folder(root) != first


def test_a_constant_that_a_loop_takes_from_elsewhere_counts() -> None:
    names = {path.name for path in jit.sources(Path(jit.__file__).parent)}
    assert {"lists.py", "moves.py", "shop.py"} <= names  # the last one holds no loop
    assert "cli.py" not in names


@pytest.mark.skipif(not jit.COMPILED, reason="numba is not installed")
def test_a_changed_loop_is_what_loops_of_other_files_call(tmp_path: Path) -> None:
    root = package(tmp_path)
    told = []
    for value in (1, 1, 5):
        (root / "part" / "inner.py").write_text(INNER.format(value))
        run = [sys.executable, "-c", "from solver.part.outer import twice; print(twice())"]
        clean = {name: text for name, text in os.environ.items() if name != "NUMBA_CACHE_DIR"} | {"PYTHONPATH": str(tmp_path)}
        told.append(subprocess.run(run, check=True, capture_output=True, text=True, cwd=tmp_path, env=clean).stdout.strip())
    assert told == ["2", "2", "10"]
    assert len(list((root / "__pycache__").glob("loops-*"))) == 2


@pytest.mark.skipif(not jit.COMPILED, reason="numba is not installed")
def test_only_a_few_versions_are_kept(tmp_path: Path) -> None:
    root = package(tmp_path)
    run = [sys.executable, "-c", "import solver.jit"]
    clean = {name: text for name, text in os.environ.items() if name != "NUMBA_CACHE_DIR"} | {"PYTHONPATH": str(tmp_path)}
    for value in range(jit.KEPT + 2):
        (root / "part" / "inner.py").write_text(INNER.format(value))
        subprocess.run(run, check=True, cwd=tmp_path, env=clean)
    assert len(list((root / "__pycache__").glob("loops-*"))) == jit.KEPT
