"""Who may import whom: the table of DEVELOPERS.md, run."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
STAGES = ("takeoff", "nesting", "sequencing", "slitting", "scheduling", "bundling", "loading", "documents", "replanning")
PURE = {"solver.jit", "solver.highs", "solver.units", "solver.errors", "solver.hints", "solver.search", "solver.codec"}

# room: the rooms (module prefixes) it may import; its own room is always allowed
TABLE: dict[str, set[str]] = {
    "solver.units": set(),
    "solver.errors": set(),
    "solver.hints": set(),
    "solver.search": set(),
    "solver.codec": {"solver.units", "solver.errors", "solver.hints"},
    "solver.domain": {"solver.units", "solver.errors", "solver.hints"},
    "solver.reading": PURE | {"solver.domain"},
    **{f"solver.{stage}": PURE | {"solver.domain"} for stage in STAGES},
    "solver.replanning": PURE | {"solver.domain", "solver.scheduling"},  # the same machines, the same search
    "solver.pipeline": {"solver"},
    "solver.promising": {"solver"},
    "solver.going_on": {"solver"},
    "solver.cut_order": PURE | {"solver.domain", "solver.sequencing"},
    "solver.plan_check": {"solver"},
    "service.ports": {"solver.domain", "solver.errors", "service.contracts"},
    "service.contracts": {"solver.hints", "solver.domain", "solver.codec", "solver.errors", "solver.units", "service.ports"},
    "service.store": {"solver.domain", "solver.codec", "solver.errors", "solver.units", "service.ports", "service.contracts",
                      "service.settings", "service.clock", "service.errors"},
    "service.drawings": {"solver.domain", "solver.units", "solver.documents"},
    "service.printing": {"solver.domain", "solver.units", "solver.errors", "solver.documents", "service.drawings"},
}  # fmt: skip

SOLVER_LIBRARIES = {"ortools", "highspy", "pulp"}
OUTSIDE_SOLVER = {"fastapi", "sqlalchemy", "celery", "redis", "reportlab", "segno", "pandas", "jinja2", "uvicorn", "typer"}


def modules() -> list[tuple[str, Path]]:
    found = []
    for top in ("solver", "service", "worker"):
        for path in sorted((ROOT / top).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
            found.append((name, path))
    return found


def imports(path: Path, name: str) -> set[str]:
    """Every module that a file imports, at its top or inside its functions."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*name.split(".")[: -node.level], base]).rstrip(".")
            found |= {base} | {f"{base}.{alias.name}" for alias in node.names}
    return found


def within(module: str, room: str) -> bool:
    return module == room or module.startswith(room + ".")


def room_of(name: str) -> str | None:
    rooms = [room for room in TABLE if within(name, room)]
    return max(rooms, key=len) if rooms else None


def trespasses(name: str, path: Path) -> list[str]:
    room = room_of(name)
    if room is None:
        return []
    allowed = TABLE[room] | {room}
    found = []
    for module in imports(path, name):
        ours = module.split(".")[0] in ("solver", "service", "worker")
        if ours and module not in ("solver", "service") and not any(within(module, okay) for okay in allowed):
            base = module.rpartition(".")[0]  # "from solver.units import Nm" also yields solver.units.Nm
            if not any(within(base, okay) for okay in allowed):
                found.append(f"{name} imports {module}")
    return found


@pytest.mark.parametrize(("name", "path"), modules(), ids=[name for name, _ in modules()])
def test_a_room_imports_only_what_the_table_allows(name: str, path: Path) -> None:
    assert trespasses(name, path) == []


def test_a_trespass_is_noticed(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text("from solver.nesting.nest import nest\n")
    assert trespasses("solver.takeoff.bad", bad) != []


@pytest.mark.parametrize("stage", STAGES)
def test_a_check_shares_no_code_with_its_search(stage: str) -> None:
    folder = ROOT / "solver" / stage
    for path in [*sorted(folder.glob("check*.py")), *sorted(folder.glob("check/*.py"))]:
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for module in imports(path, name):
            own = module.startswith("solver.") and not any(
                within(module, okay)
                for okay in ("solver.units", "solver.errors", "solver.hints", "solver.domain", f"solver.{stage}.check")
            )
            assert not own, f"{path.name} imports {module}"


def test_solver_libraries_stay_in_stage_packages() -> None:
    for name, path in modules():
        tops = {module.split(".")[0] for module in imports(path, name)}
        if tops & SOLVER_LIBRARIES:
            assert name == "solver.highs" or any(within(name, f"solver.{stage}") for stage in STAGES), name


def test_the_solver_knows_no_web_no_database_no_paper() -> None:
    for name, path in modules():
        if within(name, "solver"):
            tops = {module.split(".")[0] for module in imports(path, name)}
            assert not tops & OUTSIDE_SOLVER, name


def test_the_solver_reads_no_clock_no_file_no_network() -> None:
    forbidden = {"time", "socket", "random", "os", "pathlib", "subprocess", "urllib", "http", "tempfile"}
    for name, path in modules():
        if within(name, "solver") and name != "solver.jit":  # which says where numba keeps what it compiled
            tops = {module.split(".")[0] for module in imports(path, name)}
            assert not tops & (forbidden - {"random"}), f"{name}: {tops & forbidden}"


def test_every_folder_of_code_is_explained_in_developers_md() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for top in ("solver", "service"):
        for folder in sorted((ROOT / top).iterdir()):
            if (folder / "__init__.py").exists():
                assert f"`{top}/{folder.name}/`" in text, folder.name
