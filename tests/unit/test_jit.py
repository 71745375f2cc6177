"""Compiled loops are kept for just the text that they are made of."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from service import warm_up
from solver import jit

INNER = """
from solver.jit import jit_compiled

@jit_compiled
def step():
    return {}
"""
OUTER = """
from solver.jit import jit_compiled
from solver.part.inner import step

@jit_compiled
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
    first = jit.compiled_loops_folder(root)
    (root / "other.py").write_text("A = 2\n")
    assert jit.compiled_loops_folder(root) == first
    (root / "part" / "inner.py").write_text(INNER.format(3))
    assert jit.compiled_loops_folder(root) != first


def test_a_constant_that_a_loop_takes_from_elsewhere_counts() -> None:
    names = {path.name for path in jit.loop_source_files(Path(jit.__file__).parent)}
    assert {"decoding.py", "moves.py", "shop.py"} <= names  # the last one holds no loop
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


ASKED = "import solver.jit, sys; sys.stdout.write(str(solver.jit.HOME))"


def test_who_finds_that_another_process_made_the_folder_meanwhile_uses_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Issue 12, 34: the loser of two processes fell back to numba's own folder, where old loops of other files run on."""
    home = tmp_path / "loops-1"
    real = Path.exists

    def just_before(path: Path, **more: bool) -> bool:
        there = real(path, **more)
        if path == home:
            home.mkdir(exist_ok=True)  # the other process
        return there

    monkeypatch.setattr(Path, "exists", just_before)
    assert jit.choose_writable_folder(home, tmp_path / "own" / "loops-1") == home


@pytest.mark.skipif(not jit.COMPILED, reason="numba is not installed")
def test_processes_that_begin_at_once_keep_loops_in_one_folder(tmp_path: Path) -> None:
    root = package(tmp_path)
    clean = {name: text for name, text in os.environ.items() if name != "NUMBA_CACHE_DIR"} | {"PYTHONPATH": str(tmp_path)}
    begun = [
        subprocess.Popen([sys.executable, "-c", ASKED], stdout=subprocess.PIPE, text=True, cwd=tmp_path, env=clean)
        for _ in range(4)
    ]
    assert {one.communicate()[0] for one in begun} == {str(jit.compiled_loops_folder(root))}


def test_loops_that_came_with_an_installation_nobody_may_write_are_copied_to_the_users_own_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    beside, own = tmp_path / "installed" / "loops-1", tmp_path / "own" / "loops-1"
    beside.mkdir(parents=True)
    (beside / "run.nbc").write_text("code")
    real = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: path != beside and real(path, mode))  # root may write anywhere
    assert jit.choose_writable_folder(beside, own) == own
    assert (own / "run.nbc").read_text() == "code"


def test_without_a_folder_to_write_loops_are_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Never in numba's own folder: it would run on with a loop of another file that has changed."""
    monkeypatch.setattr(os, "access", lambda _path, _mode: False)
    assert jit.choose_writable_folder(tmp_path / "a", tmp_path / "b") is None


@pytest.mark.skipif(not jit.COMPILED, reason="numba is not installed")
def test_a_number_that_a_caller_spells_out_makes_no_loop_of_its_own() -> None:
    @jit.jit_compiled
    def inner(n: int) -> int:
        return n + 1

    @jit.jit_compiled
    def outer(n: int) -> int:
        return inner(3) + inner(4) + inner(n)

    assert outer(5) == 15
    assert len(inner.signatures) == 1  # type: ignore[attr-defined]  # a dispatcher of numba's


def test_nothing_is_compiled_again_where_all_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Issue 11, C: a second run cost 30 s, for every search ran to the end of its time."""
    runs: list[Path] = []
    monkeypatch.setattr(jit, "HOME", tmp_path)
    monkeypatch.setattr(warm_up, "_compile", runs.append)
    warm_up.main()
    warm_up.main()
    assert runs == [tmp_path]


def test_a_run_that_compiles_more_is_followed_by_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small job's time may go into compiling its first loops; the later ones must have their turn."""
    ran: list[str] = []

    def answered(stage: str, _job: object, **_more: object) -> None:
        ran.append(stage)
        if ran.count(stage) < 3:
            (tmp_path / f"{stage}{len(ran)}.nbc").touch()

    monkeypatch.setattr("service.usecases.make.stages.answer_stage_job", answered)
    monkeypatch.setattr(warm_up, "JOBS", (("nest", {}), ("load", {})))
    warm_up._compile(tmp_path)
    assert ran == ["nest"] * 3 + ["load"] * 3
