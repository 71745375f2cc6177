"""Patterns across a coil: the one worth most at given prices, and all that are worth enough."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from solver.slitting.problem import Pattern, SlitProblem

CELLS = 1 << 17  # widest table; beyond it patterns are found by branching
TABLE = 1 << 24  # most cells in all its layers
DEPTH = 300  # most different strips in a pattern that branching looks at
NEVER = -(1 << 62)


class TooManyPatterns(Exception):
    """More patterns or more work than was allowed."""


def best_pattern(problem: SlitProblem, prices: Sequence[int], over: Callable[[], bool]) -> tuple[int, Pattern] | None:
    """Return the largest worth of any pattern and one pattern of that worth, or None when no pattern is wide enough.

    Prices are whole and at least 0, their sum over any pattern below 2^62, so the worth is exact. Raises TooMany when
    `over()` before the answer is certain (only beyond a table's size).
    """
    if problem.room < CELLS and problem.room * problem.knives < TABLE:
        return _best_by_table(problem, prices)
    return _best_by_branching(problem, prices, over)


def _best_by_table(problem: SlitProblem, prices: Sequence[int]) -> tuple[int, Pattern] | None:
    layers = [np.full(problem.room + 1, NEVER, dtype=np.int64)]
    layers[0][0] = 0
    for _ in range(problem.knives):
        last = layers[-1]
        layer = last.copy()
        for size, price in zip(problem.sizes, prices, strict=True):
            np.maximum(layer[size:], last[: problem.room + 1 - size] + price, out=layer[size:])
        if np.array_equal(layer, last):
            break
        layers.append(layer)
    used = problem.least + int(np.argmax(layers[-1][problem.least :]))
    worth = int(layers[-1][used])
    if worth < 0:
        return None
    return worth, _walk_back(problem, prices, layers, used)


def _walk_back(problem: SlitProblem, prices: Sequence[int], layers: list[NDArray[np.int64]], used: int) -> Pattern:
    counts = [0] * len(problem.sizes)
    for depth in range(len(layers) - 1, 0, -1):
        worth = layers[depth][used]
        if layers[depth - 1][used] == worth:
            continue
        for strip, size in enumerate(problem.sizes):
            if size <= used and layers[depth - 1][used - size] + prices[strip] == worth:
                counts[strip] += 1
                used -= size
                break
    return tuple(counts)


def _best_by_branching(problem: SlitProblem, prices: Sequence[int], over: Callable[[], bool]) -> tuple[int, Pattern] | None:
    floor = [0]  # rises with the best found
    best: tuple[int, Pattern] | None = None
    for worth, pattern in _branch(problem, prices, lambda: floor[0], over):
        if best is None or worth > best[0]:
            best = (worth, pattern)
            floor[0] = worth + 1
    return best


def full_patterns(
    problem: SlitProblem,
    prices: Sequence[int],
    floor: int,
    *,
    most: int,
    work: int,
    over: Callable[[], bool],
    part_full: bool = False,
) -> list[Pattern]:
    """Return every pattern that takes no further strip (with `part_full`: every pattern) and is worth at least `floor`.

    Raises TooMany past `most` patterns or `work` steps, or when `over()`.
    """
    found: list[Pattern] = []
    steps = 0

    def spent() -> bool:
        nonlocal steps
        steps += 1
        return steps > work or (steps % 256 == 0 and over())

    for _, pattern in _branch(problem, prices, lambda: floor, spent):
        if any(pattern) and (part_full or problem.full(pattern)):
            found.append(pattern)
            if len(found) > most:
                raise TooManyPatterns
    return found


def _branch(
    problem: SlitProblem, prices: Sequence[int], floor: Callable[[], int], over: Callable[[], bool]
) -> Iterator[tuple[int, Pattern]]:
    """Yield patterns worth at least `floor()` (it may rise), strips of most worth a width first, many before few."""
    rank = sorted(range(len(prices)), key=lambda strip: (-prices[strip] / problem.sizes[strip], strip))
    sizes = [problem.sizes[strip] for strip in rank]
    worths = [prices[strip] for strip in rank]
    top = [0] * (len(rank) + 1)  # dearest strip from here on
    for place in range(len(rank) - 1, -1, -1):
        top[place] = max(top[place + 1], worths[place])
    counts = [0] * len(rank)

    def beyond(place: int, room: int, knives: int) -> int:
        # all strips from `place` on are worth at most as much a width as this one
        return min(room * worths[place] // sizes[place], knives * top[place])

    def deeper(place: int, room: int, knives: int, worth: int, depth: int) -> Iterator[tuple[int, Pattern]]:
        if depth > DEPTH or over():
            raise TooManyPatterns
        if problem.room - room >= problem.least and worth >= floor():
            made = [0] * len(rank)
            for at, strip in enumerate(rank):
                made[strip] = counts[at]
            yield worth, tuple(made)
        for at in range(place, len(rank)):
            if worth + beyond(at, room, knives) < floor():
                return
            for count in range(min(room // sizes[at], knives), 0, -1):
                counts[at] = count
                yield from deeper(at + 1, room - count * sizes[at], knives - count, worth + count * worths[at], depth + 1)
            counts[at] = 0

    yield from deeper(0, problem.room, problem.knives, 0, 0)
