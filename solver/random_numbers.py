"""Random numbers for inner loops: a Lehmer generator (Park and Miller 1988), the same with and without compiling.

Its state is an array of one whole number, made by `seeded_state` and changed by each draw.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import jit_compiled

Array = Any
MULTIPLIER, MODULUS = 48271, 2147483647


def seeded_state(seed: int) -> Array:
    """Return the state of a generator that is decided by a seed."""
    return np.array([seed % (MODULUS - 1) + 1], np.int64)


@jit_compiled
def random_below(state: Array, sides: int) -> int:
    """Return a whole number from 0 to sides - 1."""
    state[0] = state[0] * MULTIPLIER % MODULUS
    return int(state[0] % sides)


@jit_compiled
def random_fraction(state: Array) -> float:
    """Return a number from 0 to 1."""
    state[0] = state[0] * MULTIPLIER % MODULUS
    return float(state[0] / float(MODULUS))
