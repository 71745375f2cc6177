"""Runs benchmarks: `python -m tests.bench [NAME ...] [-- ARGUMENTS]`; each module of this folder with a `main` is one."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path

SHARED_PARTS = ("machine", "by_hand_plan")
BY_NAME = ("large", "rolling")  # minutes and more than a gigabyte, or an hour: only where it is asked for


def names() -> list[str]:
    """Return the benchmarks there are, by module name."""
    found = (path.stem for path in sorted(Path(__file__).parent.glob("*.py")))
    return [name for name in found if not name.startswith("_") and name not in SHARED_PARTS]


def main(arguments: list[str]) -> int:
    """Run the named benchmarks, or all; the exit code is the worst of theirs."""
    mine, _, theirs = "\0".join(arguments).partition("--\0")
    wanted = [name for name in mine.split("\0") if name and name != "--"] or [name for name in names() if name not in BY_NAME]
    passed_on = [word for word in theirs.split("\0") if word]
    unknown = [name for name in wanted if name not in names()]
    if unknown:
        print(f"no benchmark {', '.join(unknown)}; there are {', '.join(names())}")
        return 2
    worst = 0
    for name in wanted:
        print(f"== {name}", flush=True)
        worst = max(worst, importlib.import_module(f"tests.bench.{name}").main(passed_on) or 0)
    return worst


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
