"""The independent proof of loads: places, weights, order of need and tie-downs worked out by other means than made them."""

from __future__ import annotations

from solver.loading.check.judge import check

__all__ = ["check"]
