"""The machine that measured, and where results go."""

from __future__ import annotations

import json
import os
import platform
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

RESULTS = Path(__file__).parent / "results"
LIBRARIES = ("ortools", "highspy", "numpy", "numba", "pulp")


def machine() -> dict[str, Any]:
    """Return what measured: processor, cores, memory, Python and solver libraries; no name of the machine."""
    cpu = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [line.partition(":")[2].strip() for line in info.read_text().splitlines() if line.startswith("model name")]
        cpu = names[0] if names else cpu
    pages = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") if hasattr(os, "sysconf") else 0
    return {
        "processor": cpu,
        "cores": os.cpu_count(),
        "memory_gib": round(pages / 2**30, 1),
        "system": platform.system(),
        "python": platform.python_version(),
        **{name: _version(name) for name in LIBRARIES},
    }


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "absent"


def write_result(name: str, result: dict[str, Any], *, command: str) -> Path:
    """Write a benchmark's result beside the command that makes it and the machine that made it."""
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / f"{name}.json"
    whole = {"command": command, "measured": datetime.now(UTC).date().isoformat(), "machine": machine(), **result}
    path.write_text(json.dumps(whole, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return path
