"""Heads of wall panels that are no single line: every slope a cut of its own."""

from __future__ import annotations

import math
from itertools import pairwise

from solver.domain.piece import Piece
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.proof import TakeoffProof

SLACK_UDEG = 2_000


def check_head_cuts(proof: TakeoffProof, piece: Piece) -> None:
    """Judge that each slope of a head is told as a cut, from left to right, and that the head is the steepest of them."""
    wanted = [math.degrees(math.atan2(abs(b[1] - a[1]), b[0] - a[0])) * 1e6 for a, b in head_lines(piece)]
    got = [cut.swing_udeg for cut in piece.head_cuts] if len(wanted) > 1 else [piece.head.swing_udeg]
    if len(got) != len(wanted) or any(abs(one - other) > SLACK_UDEG for one, other in zip(got, wanted, strict=True)):
        shown = ", ".join(f"{angle / 1e6:.2f}" for angle in wanted)
        proof.add_fault(piece.mark, "its head's cuts are not the slopes of its set shape", f"{shown} degrees from square")
    elif abs(piece.head.swing_udeg - max(wanted)) > SLACK_UDEG:
        proof.add_fault(piece.mark, "its head is not the steepest of its cuts", f"{max(wanted) / 1e6:.2f} degrees")


def head_lines(piece: Piece) -> list[tuple[Spot, Spot]]:
    """Return the straight lines of a head, left to right; steps, which no swing of the saw cuts, left out."""
    ring: list[Spot] = [*piece.outline[1:], piece.outline[0]]
    stretches = [(b, a) for a, b in pairwise(ring) if b[0] < a[0]]
    lines: list[tuple[Spot, Spot]] = []
    for a, b in reversed(stretches):
        if lines and lines[-1][1] == a and _in_line(*lines[-1], b):
            lines[-1] = (lines[-1][0], b)
        else:
            lines.append((a, b))
    return lines


def _in_line(a: Spot, b: Spot, c: Spot) -> bool:
    return (b[1] - a[1]) * (c[0] - b[0]) == (c[1] - b[1]) * (b[0] - a[0])
