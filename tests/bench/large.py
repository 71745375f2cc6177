"""A hundred houses planned at once: `python -m tests.bench large`; into results/whole.json beside the smaller parts."""

from __future__ import annotations

from tests.bench.whole import measure_parts


def main(arguments: list[str]) -> int:
    """Measure a hundred houses (or as many as are named); 1 where the plan is not proved and judged sound."""
    return measure_parts(arguments or ["100"])
