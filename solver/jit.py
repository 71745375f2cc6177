"""Compiled inner loops where numba is installed; the same functions in plain Python, slower, where it is not.

Loops are kept compiled on disk. Numba asks only whether the file that a loop stands in is as it was; a loop that calls one of
another file, or takes a constant from there, would run on with the old one. So they are kept in a folder that is named by
the text of all files that loops are made of.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar, cast

F = TypeVar("F", bound=Callable[..., object])
KEPT = 4  # folders of compiled loops: a process that still runs an older version may want its own

try:
    import numba as _numba
except ImportError:  # the optional extra: requirements/fast.in
    _numba = None

COMPILED = _numba is not None


def sources(root: Path) -> list[Path]:
    """Return the files below `root` that hold loops, and those they import from there."""
    texts = {path: path.read_bytes() for path in sorted(root.rglob("*.py"))}
    loops = {path: text for path, text in texts.items() if b"from solver.jit import" in text}
    named = {name for text in loops.values() for name in re.findall(rb"^from solver\.([\w.]+) import", text, re.MULTILINE)}
    near = {root.joinpath(*name.decode().split(".")).with_suffix(".py") for name in named}
    return sorted(loops.keys() | (near & texts.keys()))


def folder(root: Path) -> Path:
    """Return where the loops of these very texts are kept."""
    said = hashlib.sha256()
    for path in sources(root):
        said.update(f"{path.relative_to(root)}\0".encode() + path.read_bytes())
    return root / "__pycache__" / f"loops-{said.hexdigest()[:16]}"


def _keep_by_text(home: Path) -> None:
    """Let numba keep loops there and drop the oldest folders; where that cannot be written numba does as it always does."""
    try:
        if not home.exists():
            home.mkdir(parents=True)
            kept = sorted(home.parent.glob("loops-*"), key=lambda path: path.stat().st_mtime, reverse=True)
            for old in kept[KEPT:]:
                shutil.rmtree(old, ignore_errors=True)
    except OSError:
        return
    if os.access(home, os.W_OK):
        _numba.config.CACHE_DIR = str(home)


if COMPILED and not os.environ.get("NUMBA_CACHE_DIR"):
    _keep_by_text(folder(Path(__file__).parent))


def compiled(function: F) -> F:
    """Return the function in machine code (kept on disk; other threads run meanwhile), or as it is without numba."""
    return cast(F, _numba.njit(cache=True, nogil=True)(function)) if COMPILED else function
