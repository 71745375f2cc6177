"""Tie-downs: how many by the published counts, and where they lie. Local rules and licensed people govern.

49 CFR 393.106(d), 393.108, 393.110 (checks S1 to S8).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.units import FOOT, Nm, grams_from_pounds

PASSES = 4  # over all straps, moving each to where they lie more evenly
SHORT_NM = 5 * FOOT
STEP_NM = 10 * FOOT
LIGHT_G = grams_from_pounds(1100)


# Working load limits of UNMARKED tie-downs in pounds, 49 CFR 393.108 table; a marking governs where there is one.
# Grade 80 of 5/16 in (4,500) is below grade 70 (4,700) in the published table.
UNMARKED_CHAIN_LB: dict[str, dict[int, int]] = {
    "1/4": {30: 1_300, 43: 2_600, 70: 3_150, 80: 3_500, 100: 4_300},
    "5/16": {30: 1_900, 43: 3_900, 70: 4_700, 80: 4_500, 100: 5_700},
    "3/8": {30: 2_650, 43: 5_400, 70: 6_600, 80: 7_100, 100: 8_800},
    "7/16": {30: 3_700, 43: 7_200, 70: 8_750},
    "1/2": {30: 4_500, 43: 9_200, 70: 11_300, 80: 12_000, 100: 15_000},
    "5/8": {30: 6_900, 43: 13_000, 70: 15_800, 80: 18_100, 100: 22_600},
}
UNMARKED_WEBBING_LB: dict[str, int] = {"1 3/4": 1_750, "2": 2_000, "3": 3_000, "4": 4_000}


def chain_wll_lb(size: str, grade: int | None = None, *, marked_lb: int | None = None) -> int:
    """Return the working load limit of a chain: as marked, else by the table; without a grade it counts as grade 30.

    49 CFR 393.108(b), (c). Raises KeyError for a size or grade that the table lacks.
    """
    return marked_lb if marked_lb is not None else UNMARKED_CHAIN_LB[size][grade or 30]


def webbing_wll_lb(width: str, *, marked_lb: int | None = None) -> int:
    """Return the working load limit of webbing: as marked, else by the table (49 CFR 393.108). Raises KeyError."""
    return marked_lb if marked_lb is not None else UNMARKED_WEBBING_LB[width]


def tiedown_wll(*parts: int) -> int:
    """Return the working load limit of a tie-down: the least of its parts and anchor points (49 CFR 393.108(a))."""
    return min(parts)


def count_by_length(length_nm: int, weight_g: int, *, blocked_forward: bool) -> int:
    """Return how many tie-downs an article needs by its length: 49 CFR 393.110(b), blocked forward (c).

    Up to 5 ft and over 1,100 lb: two (from memory, check S6b).
    """
    if blocked_forward:
        return max(1, -(-length_nm // STEP_NM))
    if length_nm <= SHORT_NM:
        return 1 if weight_g <= LIGHT_G else 2
    if length_nm <= STEP_NM:
        return 2
    return 2 + -(-(length_nm - STEP_NM) // STEP_NM)


def count_by_load(weight_g: int, wll_g: int) -> int:
    """Return how many tie-downs over the top, side to side, make half the weight: 49 CFR 393.106(d), full WLL each."""
    return -(-weight_g // (2 * wll_g))


def direct_tiedowns_suffice(weight_g: int, wlls_g: Sequence[int]) -> bool:
    """Return whether direct tie-downs, each credited half its WLL, make half the weight: 49 CFR 393.106(d)(1)-(2)."""
    return sum(wlls_g) >= weight_g


def tiedowns_required(length_nm: int, weight_g: int, wll_g: int, *, blocked_forward: bool) -> int:
    """Return how many tie-downs one article needs: the larger of the two counts (check S8)."""
    return max(count_by_length(length_nm, weight_g, blocked_forward=blocked_forward), count_by_load(weight_g, wll_g))


def strap_places(spans: Sequence[tuple[int, int, int]], lines: Sequence[int], *, least: int, edge_nm: int) -> tuple[Nm, ...]:
    """Return where straps lie so that each span (start, end, count) has its count over it, at least `least` in all.

    As `first_straps` has them, then moved apart.
    """
    chosen = first_straps(spans, lines, edge_nm)
    extra = _spread(spans, chosen, least - len(chosen))
    places = _evened(sorted({*chosen, *extra}), sorted(set(spans)), lines, edge_nm)
    return tuple(Nm(place) for place in places)


def first_straps(spans: Sequence[tuple[int, int, int]], lines: Sequence[int], edge_nm: int) -> list[int]:
    """Return places of straps so that each span (start, end, count) has its count over it.

    Straps go over timbers (`lines`) first, for there the foam is borne; where a span has too few lines, between them.
    Spans are served by their ends, latest places first: the classic greedy cover of intervals.
    """
    chosen: list[int] = []
    for start, end, count in sorted(spans, key=lambda span: span[1]):
        have = sum(start <= place <= end for place in chosen)
        if have >= count:
            continue
        free = [line for line in lines if start + edge_nm <= line <= end - edge_nm and line not in chosen]
        free += [place for place in _between(start, end, count) if place not in chosen and place not in free]
        chosen += sorted(free, key=lambda place: (place not in lines, -place))[: count - have]
    return chosen


def _evened(chosen: list[int], spans: Sequence[tuple[int, int, int]], lines: Sequence[int], edge_nm: int) -> list[int]:
    """Return the straps moved, each between its neighbours, to lie more evenly over what they hold; each span keeps its count.

    A strap over a timber stays over one, and one between timbers goes over one where it can.
    """

    def uneven(places: Sequence[int]) -> int | None:
        total = 0
        for start, end, count in spans:
            over = [place for place in places if start <= place <= end]
            if len(over) < count:
                return None
            total += sum((right - left) ** 2 for left, right in pairwise((start, *over, end)))
        return total

    free = [line for line in lines if any(start + edge_nm <= line <= end - edge_nm for start, end, _ in spans)]
    for _ in range(PASSES):
        before = chosen
        for place in before:
            others = [other for other in chosen if other != place]
            low = max((other for other in others if other < place), default=place - STEP_NM)
            high = min((other for other in others if other > place), default=place + STEP_NM)
            # between timbers any timber is better; of timbers alike the first, so that straps move on together
            costs = [(uneven(chosen), place)] if place in lines else []
            costs += [(uneven(sorted((*others, line))), line) for line in free if low < line < high]
            known = [(cost, line) for cost, line in costs if cost is not None]
            if known:
                chosen = sorted((*others, min(known)[1]))
        if chosen == before:
            break
    return chosen


def _between(start: int, end: int, count: int) -> list[int]:
    return [start + (end - start) * (2 * place + 1) // (4 * count) for place in range(2 * count)]


def _spread(spans: Sequence[tuple[int, int, int]], chosen: Sequence[int], count: int) -> list[int]:
    """Return more places, each in the widest gap left within a span."""
    made: list[int] = []
    for _ in range(max(0, count)):
        best = (0, 0)
        for start, end, _ in spans:
            inside = sorted({start, end, *(place for place in (*chosen, *made) if start < place < end)})
            for left, right in pairwise(inside):
                best = max(best, (right - left, (left + right) // 2))
        made.append(best[1])
    return made
