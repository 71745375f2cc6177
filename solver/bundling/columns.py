"""Trims in columns: in each the first to stand lies on top, and none is longer or wider than the one below it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from solver.bundling.rules import longest_bundle_nm
from solver.domain.bundle import BundleLimits, StackPiece

Column = list[StackPiece]  # top first


def column_height_nm(column: Sequence[StackPiece]) -> int:
    """Return how high a column is."""
    return sum(piece.thickness_nm for piece in column)


def columns_width_nm(columns: Sequence[Column]) -> int:
    """Return how wide columns side by side are: each as wide as its lowest piece."""
    return sum(column[-1].width_nm for column in columns)


@dataclass(slots=True)
class PartialTrimBundle:
    """A bundle of trims being filled in order of standing, each piece below what stood before it."""

    limits: BundleLimits
    high_nm: int  # that a column may be
    columns: list[Column] = field(default_factory=list)
    weight_g: int = 0

    def add(self, piece: StackPiece) -> bool:
        """Put the next piece in, and return whether it goes in; where it does not nothing changes.

        It goes under the column whose lowest piece is nearest to it in width, then in length, else it begins a column.
        """
        if self.weight_g + piece.weight_g > self.limits.weight_g or piece.length_nm > longest_bundle_nm(self.limits):
            return False
        spare = self.limits.trim_width_nm - columns_width_nm(self.columns)
        fitting = [
            column
            for column in self.columns
            if column[-1].length_nm <= piece.length_nm
            and 0 <= piece.width_nm - column[-1].width_nm <= spare
            and column_height_nm(column) + piece.thickness_nm <= self.high_nm
        ]
        if fitting:
            max(fitting, key=lambda column: (column[-1].width_nm, column[-1].length_nm)).append(piece)
        elif piece.width_nm <= spare and piece.thickness_nm <= self.high_nm:
            self.columns.append([piece])
        else:
            return False
        self.weight_g += piece.weight_g
        return True


def _room_nm(limits: BundleLimits) -> int:
    return limits.height_nm - limits.dunnage_nm


def fill_columns(run: Sequence[StackPiece], limits: BundleLimits, high_nm: int | None = None) -> list[Column] | None:
    """Return the columns of a run in order of standing, none over `high_nm` (absent: the bundle's); None: it does not fit."""
    filling = PartialTrimBundle(limits, _room_nm(limits) if high_nm is None else high_nm)
    return filling.columns if all(filling.add(piece) for piece in run) else None


def compact_columns(run: Sequence[StackPiece], limits: BundleLimits) -> list[Column]:
    """Return the columns of a run that fits, the highest first: narrow, to leave room on the truck, but no higher than wide."""
    best = fill_columns(run, limits)
    if best is None:
        raise ValueError("a run that fits no bundle has no columns")
    step = max(piece.thickness_nm for piece in run)
    for high in range(step, _room_nm(limits), step):
        made = fill_columns(run, limits, high)
        if made is None:
            continue
        best = made
        if limits.dunnage_nm + max(map(column_height_nm, made)) + step > columns_width_nm(made):
            break
    return sorted(best, key=lambda column: (-column_height_nm(column), -column[-1].length_nm))


def cut_trim_runs(pieces: Sequence[StackPiece], limits: BundleLimits) -> tuple[list[list[StackPiece]], int]:
    """Return runs of the order of standing, each a bundle in columns, as even as so few can be, and a bound on their number.

    The bound closes a run only where weight or cross section would not hold it: what fits so is hereditary (case S10).
    """
    runs: list[list[StackPiece]] = []
    filling = PartialTrimBundle(limits, _room_nm(limits))
    for piece in pieces:
        if runs and filling.add(piece):
            runs[-1].append(piece)
        else:
            filling = PartialTrimBundle(limits, _room_nm(limits))
            filling.add(piece)
            runs.append([piece])
    even = [list(pieces[len(pieces) * n // len(runs) : len(pieces) * (n + 1) // len(runs)]) for n in range(len(runs))]
    return even if all(fill_columns(run, limits) is not None for run in even) else runs, _least(pieces, limits)


def _least(pieces: Sequence[StackPiece], limits: BundleLimits) -> int:
    count, weight, section = 0, limits.weight_g + 1, 0
    for piece in pieces:
        own = piece.width_nm * piece.thickness_nm
        if weight + piece.weight_g > limits.weight_g or section + own > limits.trim_width_nm * _room_nm(limits):
            count, weight, section = count + 1, 0, 0
        weight, section = weight + piece.weight_g, section + own
    return count
