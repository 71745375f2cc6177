"""Pieces with sloped ends as if they were square: a plan to begin with, and a bound where few slopes meet their like.

Where a piece may not turn, and most begin square, hardly a slope finds one to lie against. A bound that shares every cut as
well as any could be is then far below what is possible.

In doubled lengths a bar needs |s1| + |en| + sum of edges + sum over neighbours (2 gap + |e - s|), with e and s the leans of
two facing ends. As |e - s| >= |e| - |s| and >= |s| - |e|, each piece needs at least its edges + |e| - |s|, or each at least
its edges + |s| - |e|, beside a kerf between neighbours: square pieces of these lengths need no more room than the real ones.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import replace

from solver.domain.certificate import Certificate
from solver.domain.cut_plan import PieceKind
from solver.nesting.bars import Cut, pieces_fit
from solver.nesting.certify import CertifiedBound
from solver.nesting.model import NestingModel, build_model
from solver.nesting.shapes import Shape
from solver.search import Search, with_time_limit
from solver.units import Nm

BEGIN, BOUND = 0.4, 0.3  # of the time, at most, for the plan to begin with and for the bound
Solve = Callable[[NestingModel, Search], tuple[list[Cut] | None, CertifiedBound]]


def is_worth_squaring(model: NestingModel) -> bool:
    """Return whether slopes find so few to lie against that pieces are better looked at as square."""
    shared = sum(kind.count * kind.doubled for kind in model.kinds)
    return max(_total(model, 1), _total(model, -1)) > shared


def start_from_squares(
    model: NestingModel, cuts: list[Cut] | None, search: Search, solve: Solve
) -> tuple[list[Cut] | None, CertifiedBound | None]:
    """Return a plan and a bound of the cost, from pieces taken as square; the plan is `cuts` where none was found to fit."""
    whole = search.left_s()
    first = _as_long_as_they_reach(model, with_time_limit(search, BEGIN * whole), solve)
    sign = 1 if _total(model, 1) >= _total(model, -1) else -1
    lengths: Counter[int] = Counter()
    for kind in model.kinds:
        if (least := _least2(kind.shapes, sign) // 2) > 0:
            lengths[least] += kind.count
    if not lengths:
        return first or cuts, None
    squares = _squares(model, lengths, model.kerf_nm, clamp_nm=0)
    _, basis = solve(squares, with_time_limit(search, BOUND * whole))
    return first or cuts, CertifiedBound(basis.bound, _of_the_real(model, sign, squares, basis.certificate))


def _of_the_real(model: NestingModel, sign: int, squares: NestingModel, proof: Certificate) -> Certificate:
    """What was proved of square pieces as a certificate of those they stand for: each end's share of a cut's room."""
    if proof.kind == "nothing":
        return proof
    named = {piece.length_nm: piece.id for piece in squares.job.pieces}
    worth_of = proof.worths
    worths = {
        model.job.pieces[owner].id: worth_of[named[Nm(least)]]
        for kind in model.kinds
        if (least := _least2(kind.shapes, sign) // 2) > 0 and named[Nm(least)] in worth_of
        for owner, _ in kind.owners
    }
    starts = {shape.start for kind in model.kinds for shape in kind.shapes}
    ends = {shape.end for kind in model.kinds for shape in kind.shapes}
    kerf2 = 2 * model.kerf_nm
    return replace(
        proof,
        worths=worths,
        starts=tuple((lean, kerf2 - 2 * sign * abs(lean)) for lean in sorted(starts)),
        ends=tuple((lean, kerf2 + 2 * sign * abs(lean)) for lean in sorted(ends)),
    )


def _least2(shapes: tuple[Shape, ...], sign: int) -> int:
    """Twice the room that a piece needs at least in any of its turns."""
    return min(shape.doubled + sign * (abs(shape.end) - abs(shape.start)) for shape in shapes)


def _total(model: NestingModel, sign: int) -> int:
    return sum(kind.count * max(0, _least2(kind.shapes, sign)) for kind in model.kinds)


def _squares(model: NestingModel, lengths: Counter[int], kerf_nm: int, *, clamp_nm: int) -> NestingModel:
    kinds = tuple(
        PieceKind(id=f"S{n}", length_nm=Nm(length), count=count)
        for n, (length, count) in enumerate(sorted(lengths.items(), reverse=True))
    )
    return build_model(replace(model.job, pieces=kinds, kerf_nm=Nm(kerf_nm), clamp_nm=Nm(clamp_nm), few_patterns=False))


def _as_long_as_they_reach(model: NestingModel, search: Search, solve: Solve) -> list[Cut] | None:
    """Bars of pieces as they are, each as far from the next as the steepest cut asks; None where one does not fit so."""
    reach = [(kind.doubled + abs(kind.shapes[0].start) + abs(kind.shapes[0].end) + 1) // 2 for kind in model.kinds]
    steepest = max(max(abs(kind.shapes[0].start), abs(kind.shapes[0].end)) for kind in model.kinds)
    lengths: Counter[int] = Counter()
    waiting: dict[int, list[int]] = defaultdict(list)
    for n, kind in enumerate(model.kinds):
        lengths[reach[n]] += kind.count
        waiting[reach[n]] += [n] * kind.count
    longest = max(stock.room_nm for stock in model.stocks)
    if max(reach) > longest:
        return None
    squares = _squares(model, lengths, model.gap(steepest), clamp_nm=model.clamp_nm)
    squares = replace(squares, keep_from_nm=None)  # bars alone are found sooner; drops have their credit all the same
    found, _ = solve(squares, search)
    if found is None:
        return None
    length = [kind.doubled // 2 for kind in squares.kinds]
    made: Counter[tuple[int, tuple[tuple[int, int], ...]]] = Counter()
    for cut in found:
        for _ in range(cut.repeat):
            slots = tuple((waiting[length[kind]].pop(), 0) for kind, _ in cut.slots)
            if not pieces_fit(model, model.stocks[cut.stock], slots):
                return None
            made[cut.stock, slots] += 1
    return [Cut(stock, slots, repeat) for (stock, slots), repeat in made.items()]
