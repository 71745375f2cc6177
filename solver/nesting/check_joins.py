"""How pieces with sloped ends lie side by side, for the check of bounds: leans, cuts, and the least room in any order."""

from __future__ import annotations

import math
from collections.abc import Mapping

from solver.domain.cut_plan import NestJob, PieceKind, Turn

MOST_TRIED = 200_000
_WAYS: tuple[Turn, ...] = ("as_is", "end_for_end", "over", "over_end")


class TooManyOrders(Exception):
    """There are more orders of pieces than can be looked at."""


class Joins:
    """The least room of pieces on a bar in any order and any of their turns: remembered by how many of each shape are left."""

    def __init__(self, job: NestJob) -> None:
        self.job = job
        self.shapes = [tuple(sorted(set(leans_of(piece)))) for piece in job.pieces]
        self.least: dict[tuple[tuple[tuple[tuple[int, int], ...], int], ...], dict[int | None, int]] = {}
        self.known = 0

    def least_room_x2(self, held: Mapping[int, int]) -> int:
        """Return twice the least room that so many of these pieces take."""
        counts: dict[tuple[tuple[int, int], ...], int] = {}
        for kind, many in held.items():
            counts[self.shapes[kind]] = counts.get(self.shapes[kind], 0) + many
        length = sum(many * doubled_nm(self.job.pieces[kind]) for kind, many in held.items())
        return length + self._after(tuple(sorted(counts.items())), None)

    def _after(self, left: tuple[tuple[tuple[tuple[int, int], ...], int], ...], end: int | None) -> int:
        """Return twice the least room of cuts and slopes from an end on (None: the bar's), with these shapes to come."""
        if not left:
            return abs(end or 0)
        known = self.least.setdefault(left, {})
        if end not in known:
            self.known += 1
            if self.known > MOST_TRIED:
                raise TooManyOrders
            best = -1
            for place, (leans, many) in enumerate(left):
                rest = (*left[:place], *(((leans, many - 1),) if many > 1 else ()), *left[place + 1 :])
                for start, far in leans:
                    cut = abs(start)
                    if end is not None:
                        cut = 2 * gap_nm(self.job, max(abs(end), abs(start))) + abs(end - start)
                    total = cut + self._after(rest, far)
                    best = total if best < 0 else min(best, total)
            known[end] = best
        return known[end]


def gap_nm(job: NestJob, lean: int) -> int:
    """Return the least whole gap at a lean: kerf / cos(lean), rounded up."""
    if lean == 0 or job.kerf_nm == 0 or not job.width_nm:
        return job.kerf_nm
    square = job.kerf_nm**2 * (job.width_nm**2 + lean**2)
    root = math.isqrt(-(-square // job.width_nm**2))
    return root if root**2 * job.width_nm**2 >= square else root + 1


def edges_of(piece: PieceKind) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the extents of a piece on both long edges."""
    if piece.edge_a is not None and piece.edge_b is not None:
        return piece.edge_a, piece.edge_b
    return (0, piece.length_nm or 0), (0, piece.length_nm or 0)


def doubled_nm(piece: PieceKind) -> int:
    """Return the sum of both edges."""
    (a0, a1), (b0, b1) = edges_of(piece)
    return a1 - a0 + b1 - b0


def longest_nm(piece: PieceKind) -> int:
    """Return the longer edge."""
    (a0, a1), (b0, b1) = edges_of(piece)
    return max(a1 - a0, b1 - b0)


def leans_of(piece: PieceKind) -> list[tuple[int, int]]:
    """Return how far edge a is ahead of edge b at the start and the end, in each turn that the piece may take."""
    (a0, a1), (b0, b1) = edges_of(piece)
    start, end = a0 - b0, a1 - b1
    by_turn = {"as_is": (start, end), "over": (-start, -end), "over_end": (-end, -start), "end_for_end": (end, start)}
    turns = piece.turns or (_WAYS if start == 0 == end else ("as_is",))
    return [by_turn[turn] for turn in turns]
