"""The independent proof of a takeoff: it puts the pieces back by other means than those that made them.

Takeoff lays out in whole numbers; here faces are scanned in exact fractions, corners met by intersecting lines in plan, and
panels compared as solids. Nothing is shared with the rooms that it judges but the nouns.
"""

from __future__ import annotations

from solver.takeoff.check.judge import check

__all__ = ["check"]
