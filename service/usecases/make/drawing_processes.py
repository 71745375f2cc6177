"""How many processes draw a plan's sheets beside each other."""

from __future__ import annotations

import os

ALONE = 600  # pieces up to which one process is done before others have begun


def drawing_process_count(pieces: int) -> int:
    """Return how many processes draw the sheets of so many pieces: one for few, else as many as there are cores."""
    return 1 if pieces < ALONE else os.cpu_count() or 1
