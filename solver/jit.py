"""Compiled inner loops where numba is installed; the same functions in plain Python, slower, where it is not.

Loops are kept compiled on disk. Numba asks only whether the file that a loop stands in is as it was; a loop that calls one of
another file, or takes a constant from there, would run on with the old one. So they are kept in a folder that is named by
the text of all files that loops are made of, and where no such folder can be written they are not kept at all.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import shutil
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, cast

F = TypeVar("F", bound=Callable[..., object])
KEPT = 4  # folders of compiled loops: a process that still runs an older version may want its own

try:
    import numba as _numba
except ImportError:  # the optional extra: requirements/fast.in
    _numba = None

COMPILED = _numba is not None


def loop_source_files(root: Path) -> list[Path]:
    """Return the files below `root` that hold loops, and those they import from there."""
    texts = {path: path.read_bytes() for path in sorted(root.rglob("*.py"))}
    loops = {path: text for path, text in texts.items() if b"from solver.jit import" in text}
    named = {name for text in loops.values() for name in re.findall(rb"^from solver\.([\w.]+) import", text, re.MULTILINE)}
    near = {root.joinpath(*name.decode().split(".")).with_suffix(".py") for name in named}
    return sorted(loops.keys() | (near & texts.keys()))


def compiled_loops_folder(root: Path) -> Path:
    """Return where the loops of these very texts are kept."""
    said = hashlib.sha256()
    for path in loop_source_files(root):
        said.update(f"{path.relative_to(root)}\0".encode() + path.read_bytes())
    return root / "__pycache__" / f"loops-{said.hexdigest()[:16]}"


def compiled_loops_folders(root: Path) -> tuple[Path, Path]:
    """Return where the loops of these very texts may be kept: beside them, else in the user's own cache."""
    beside = compiled_loops_folder(root)
    own = Path(os.environ.get("XDG_CACHE_HOME") or Path("~/.cache").expanduser())
    return beside, own / "sawbill" / beside.name


def choose_writable_folder(beside: Path, own: Path) -> Path | None:
    """Return the first of two folders that can be written, made if need be, or None; the oldest of its like are dropped.

    An installation that cannot be written may bring loops along: the user's own folder begins as a copy of them.
    """
    for home in (beside, own):
        try:
            new = not home.exists()
            home.mkdir(parents=True, exist_ok=True)  # another process may have made it since
        except (OSError, RuntimeError):  # RuntimeError: a user without a home
            continue
        if not os.access(home, os.W_OK):
            continue
        if new:
            _drop_oldest(home)
            if home == own and beside.is_dir():
                shutil.copytree(beside, home, dirs_exist_ok=True)
        return home
    return None


def _drop_oldest(home: Path) -> None:
    kept = sorted(home.parent.glob("loops-*"), key=_age, reverse=True)
    for old in kept[KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def _age(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:  # another process dropped it meanwhile
        return 0.0


HOME: Path | None = None  # where this process keeps its loops; None: nowhere, they are compiled anew by each process
if COMPILED:
    said = os.environ.get("NUMBA_CACHE_DIR")
    HOME = Path(said) if said else choose_writable_folder(*compiled_loops_folders(Path(__file__).parent))
    _numba.config.CACHE_DIR = str(HOME or "")
# compiled code holds for one version of numba and one kind of processor
MADE_FOR = f"{_numba.__version__}-{_numba.config.CPU_NAME or 'host'}-{platform.machine()}" if COMPILED else ""


def jit_compiled(function: F) -> F:
    """Return the function in machine code (kept on disk; other threads run meanwhile), or as it is without numba."""
    return cast(F, _one_for_all_numbers(_numba.njit(cache=HOME is not None, nogil=True)(function))) if COMPILED else function


def _one_for_all_numbers(made: Any) -> Any:
    """The loop, compiled once for all whole numbers: numba compiles it anew for each one that a caller spells out."""
    from numba.core.types import unliteral  # type: ignore[attr-defined]  # numba states no types

    usual = made.get_call_template

    def call_template(args: Sequence[Any], kws: Mapping[str, Any]) -> Any:
        return usual([unliteral(kind) for kind in args], {name: unliteral(kind) for name, kind in kws.items()})

    made.get_call_template = call_template
    return made
