"""Who may import whom: the table of DEVELOPERS.md, run."""

from __future__ import annotations

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
STAGES = (
    "takeoff",
    "nesting",
    "sequencing",
    "slitting",
    "skins",
    "scheduling",
    "bundling",
    "loading",
    "documents",
    "replanning",
)
PURE_NAMES = (
    "jit",
    "random_numbers",
    "highs",
    "cbc",
    "units",
    "errors",
    "field_limits",
    "language",
    "printable_letters",
    "search",
    "codec",
)
PURE = {f"solver.{name}" for name in PURE_NAMES}

# what every room of scheduling may know: when work can be done, in which order, and what a timetable costs
SCHEDULING = {f"solver.scheduling.{name}" for name in ("calendar", "objectives", "precedence", "resource_profile")}
DOORS = {"solver.codec", "solver.domain", "solver.errors", "solver.language", "solver.units"}  # what comes in and goes out
# what we worked out before, as the store keeps it
STORED = {
    "service.stored_form",
    "service.lru_cache",
    "service.usecases.stored",
    "service.usecases.plan_rows",
    "service.usecases.plan_bounds",
    "service.usecases.plans_on_floor",
    "service.usecases.floor_bars",
    "service.usecases.snapshot",
}
WORDS = {"service.contracts", "service.errors", "service.ports"}

# room: the rooms (module prefixes) it may import; its own room is always allowed
TABLE: dict[str, set[str]] = {
    "solver.units": set(),
    "solver.errors": set(),
    "solver.field_limits": set(),
    "solver.language": set(),
    "solver.printable_letters": {"solver.errors"},
    "solver.search": set(),
    "solver.codec": {"solver.units", "solver.errors", "solver.field_limits"},
    "solver.domain": {"solver.units", "solver.errors", "solver.field_limits"},
    "solver.book": {"solver.domain", "solver.units", "solver.errors"},
    "solver.reading": PURE | {"solver.domain"},
    **{f"solver.{stage}": PURE | {"solver.domain"} for stage in STAGES},
    "solver.random_numbers": {"solver.jit"},
    "solver.scheduling.buffers": PURE | {"solver.domain", "solver.scheduling.dispatch"} | SCHEDULING,
    "solver.scheduling.lists": PURE | {"solver.domain"} | SCHEDULING,
    "solver.scheduling.graphs": PURE | {"solver.domain", "solver.scheduling.lists.shop"} | SCHEDULING,
    "solver.scheduling.permutations": PURE | {"solver.domain"} | SCHEDULING,
    "solver.scheduling.plant": PURE | {"solver.domain", "solver.scheduling.buffers"} | SCHEDULING,
    "solver.replanning": PURE | {"solver.domain", "solver.scheduling.rescheduling"},  # the one face of the search
    "solver.pipeline": {"solver"},
    "solver.floor_continuation": {"solver.domain", "solver.errors", "solver.units"},
    "solver.check_floor_continuation": {"solver.domain", "solver.errors"},  # shares no code with what goes on from the floor
    "solver.promise_problem": {"solver"},
    "solver.replan_problem": {"solver"},
    "solver.plan_parts": {"solver.domain", *(f"solver.{stage}.check" for stage in STAGES), "solver.loading.check_dispatch",
                          "solver.sequencing.check_rack", "solver.check_floor_continuation"},
    "solver.takeoff_proof": PURE | {"solver.domain", "solver.takeoff"},
    "solver.progress_tracker": PURE | {"solver.domain", "solver.plan_parts"},
    "solver.time_budget": PURE,
    "solver.cut_materials": PURE | {"solver.domain", "solver.nesting"},
    "solver.cut_order": PURE | {"solver.domain", "solver.sequencing", "solver.cut_materials"},
    "solver.plan_check": {"solver"},
    "solver.plan_bounds": {"solver"},
    "solver.cbc": set(),
    "service.ports": {"solver.book", "solver.domain", "solver.errors", "service.contracts"},
    "service.contracts": {"solver.field_limits", "solver.domain", "solver.codec", "solver.errors", "solver.units",
    "service.ports"},
    "service.stored_form": {"solver.codec", "solver.errors"},
    "service.store": {"solver.book", "solver.domain", "solver.codec", "solver.errors", "solver.units", "service.ports",
                      "service.contracts", "service.settings", "service.clock", "service.errors", "service.stored_form",
                      "service.lru_cache"},
    "service.languages": {"solver.errors", "solver.language"},
    "service.drawings": {"solver.domain", "solver.units", "solver.documents", "solver.language"},
    "service.printing": {"solver.domain", "solver.units", "solver.errors", "solver.documents", "solver.language",
                         "service.drawings"},
    "service.reports": DOORS | {"solver.documents", "service.contracts"},
    "service.usecases.stored": WORDS | {"solver.domain", "solver.plan_parts", "service.stored_form", "service.lru_cache"},
    "service.usecases.plan_rows": WORDS | {"solver.domain", "solver.documents", "solver.language", "service.stored_form",
                                           "service.lru_cache",
                                           "service.usecases.stored"},
    "service.usecases.plan_bounds": WORDS | {"solver.domain", "solver.plan_bounds", "solver.plan_parts", "service.stored_form",
                                             "service.usecases.plan_rows", "service.usecases.stored"},
    "service.usecases.plans_on_floor": WORDS | {"solver.domain"},
    "service.usecases.floor_bars": WORDS | {"solver.domain", "solver.book", "service.usecases.plan_rows",
                                            "service.usecases.stored"},
    "service.usecases.snapshot": WORDS | {"solver.domain", "solver.units", "service.usecases.floor_bars",
                                          "service.usecases.plans_on_floor", "service.usecases.stored"},
    "service.usecases.ask": DOORS | WORDS | STORED | {"solver.book", "solver.documents", "solver.plan_bounds",
                                             "solver.plan_parts", "solver.reading", "service.clock", "service.settings",
                                             "service.drawings", "service.printing", "service.reports"},
    "service.usecases.make": {"solver", "service.parent", "service.printing", "service.reports"} | STORED | WORDS,
    "service.api": DOORS | WORDS | {"solver.documents", "service.dependencies", "service.languages", "service.drawings",
                                    "service.printing",
                                    "service.stations", "service.usecases.ask"},
    "service.stations": DOORS | WORDS | {"solver.documents", "service.dependencies", "service.languages", "service.drawings",
                                         "service.printing",
                                         "service.usecases.ask", "service.usecases.make.progress"},
    "service.app": {"service.api", "service.stations", "service.store", "service.catalog", "service.dependencies",
    "service.queue",
                    "service.settings"},
    "service.cli": DOORS | {"solver.documents", "solver.search", "service.languages", "service.terminal_search",
                            "service.bound_words", "service.catalog", "service.help_words", "service.reports",
                            "service.settings", "service.usecases.make", "service.warm_up", "worker.demo", "worker.floor_state",
                            "worker.serve"},
    "worker": {"solver.domain", "solver.errors", "solver.search", "solver.progress_tracker", "service.app", "service.clock",
               "service.errors", "service.contracts", "service.parent", "service.ports", "service.queue",
               "service.settings", "service.store",
               "service.usecases", "service.warm_up"},
    "worker.wiring": {"solver.domain", "solver.pipeline", "service.catalog", "service.languages", "service.ports",
                      "service.printing",
                      "service.queue", "service.reports", "service.settings", "service.store", "service.usecases.make",
                      "service.warm_up"},
}  # fmt: skip

OTHER = ("solver.cbc", "solver.search")  # another solver than those that plan, and how long it may think
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


def uses(name: str, path: Path, known: set[str]) -> set[str]:
    """Our files that a file imports, also under TYPE_CHECKING and inside its functions."""
    found = imports(path, name)
    return {module for module in found if module in known and module != name and not _is_package_of(module, found, known)}


def _is_package_of(module: str, found: set[str], known: set[str]) -> bool:
    """Whether a module is only named because a file inside it is imported: `from solver.nesting import nest`."""
    return any(within(other, module) and other != module and other in known for other in found)


def circle(files: dict[str, set[str]]) -> list[str]:
    """A circle of files that import each other; none: empty."""
    try:
        TopologicalSorter(files).prepare()
    except CycleError as error:
        return [str(name) for name in error.args[1]]
    return []


def test_no_files_import_each_other_in_a_circle() -> None:
    paths = dict(modules())
    assert circle({name: uses(name, path, set(paths)) for name, path in paths.items()}) == []


def test_a_circle_is_noticed(tmp_path: Path) -> None:
    one, two = tmp_path / "one.py", tmp_path / "two.py"
    one.write_text("from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from solver.two import Two\n")
    two.write_text("def made():\n    from solver.one import one\n    return one\n")
    known = {"solver.one", "solver.two"}
    found = {f"solver.{path.stem}": uses(f"solver.{path.stem}", path, known) for path in (one, two)}
    assert set(circle(found)) == known
    assert circle({**found, "solver.two": set()}) == []


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
                within(module, okay) or module.startswith(f"solver.{stage}.check")
                for okay in ("solver.units", "solver.errors", "solver.field_limits", "solver.domain", *OTHER)
            )
            assert not own, f"{path.name} imports {module}"


def test_solver_libraries_stay_in_stage_packages() -> None:
    for name, path in modules():
        tops = {module.split(".")[0] for module in imports(path, name)}
        if tops & SOLVER_LIBRARIES:
            assert name in ("solver.highs", "solver.cbc") or any(within(name, f"solver.{stage}") for stage in STAGES), name


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
    for top in ("solver", "solver/scheduling", "service"):
        for folder in sorted((ROOT / top).iterdir()):
            if (folder / "__init__.py").exists():
                assert f"`{top}/{folder.name}/`" in text, folder.name
