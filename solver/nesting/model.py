"""A nesting job as the search sees it: kinds of equal shape merged, stock with exact prices, everything whole."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from solver.domain.cut_plan import NestJob
from solver.errors import FieldFault, NoPlan
from solver.nesting.shapes import Shape, gap_nm, shapes_of
from solver.units import length_as_number, show_length


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceKind:
    """Pieces of one shape: how many in all, and whose they are as (index of the job's piece, count)."""

    shapes: tuple[Shape, ...]
    count: int
    owners: tuple[tuple[int, int], ...]
    clamped: bool  # long enough for the clamp to hold: may end a bar anywhere

    @property
    def doubled(self) -> int:
        """Sum of both edges: the same in all turns."""
        return self.shapes[0].doubled

    @property
    def square(self) -> bool:
        """Whether both ends are square."""
        return self.shapes[0].start == 0 == self.shapes[0].end


@dataclass(frozen=True, slots=True, kw_only=True)
class StockKind:
    """A stock length: the room between its end trims, its price, how many there are (None: as many as wanted).

    Stock alike in all but its count is one: `owners` are the job's stocks and their counts, those on hand first.
    """

    owners: tuple[tuple[int, int | None], ...]
    length_nm: int
    trim_nm: int
    room_nm: int
    cost: Fraction
    count: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class NestingModel:
    """Kinds by falling length, usable stock by rising length, and the saw's rules."""

    job: NestJob
    kinds: tuple[PieceKind, ...]
    stocks: tuple[StockKind, ...]
    kerf_nm: int
    clamp_nm: int
    keep_from_nm: int | None
    keep_value: Fraction
    gaps: dict[int, int] = field(default_factory=dict)  # by absolute lean; filled as asked for

    @property
    def square(self) -> bool:
        """Whether all pieces are square at both ends."""
        return all(kind.square for kind in self.kinds)

    @property
    def pieces(self) -> int:
        """How many pieces are wanted in all."""
        return sum(kind.count for kind in self.kinds)

    def gap(self, lean_nm: int) -> int:
        """Return the least gap between neighbours whose steeper facing end has this lean."""
        lean = abs(lean_nm)
        if lean not in self.gaps:
            self.gaps[lean] = gap_nm(self.kerf_nm, self.job.width_nm, lean)
        return self.gaps[lean]

    def credit(self, stock: StockKind, farthest_nm: int) -> Fraction:
        """Return what the drop of a bar is worth, its pieces reaching to `farthest_nm` of the whole bar."""
        drop = drop_nm(stock, farthest_nm, kerf_nm=self.kerf_nm)
        if self.keep_from_nm is None or drop < self.keep_from_nm:
            return Fraction(0)
        return self.keep_value * stock.cost * Fraction(drop, stock.length_nm)


def drop_nm(stock: StockKind, farthest_nm: int, *, kerf_nm: int) -> int:
    """Return the length of the drop behind the farthest point of any piece."""
    return max(0, stock.length_nm - stock.trim_nm - farthest_nm - kerf_nm)


def exact_fraction(value: float) -> Fraction:
    """Return a price or share as the decimal that was written."""
    return Fraction(repr(value))


def build_model(job: NestJob) -> NestingModel:
    """Return the job as a model. Raises NoPlan when a piece fits no stock on offer."""
    return NestingModel(
        job=job,
        kinds=_kinds(job),
        stocks=_stocks(job),
        kerf_nm=job.kerf_nm,
        clamp_nm=job.clamp_nm,
        keep_from_nm=job.keep_from_nm if job.keep_value > 0 else None,
        keep_value=exact_fraction(job.keep_value),
    )


def _kinds(job: NestJob) -> tuple[PieceKind, ...]:
    owners: dict[tuple[Shape, ...], list[tuple[int, int]]] = {}
    for n, piece in enumerate(job.pieces):
        owners.setdefault(shapes_of(piece), []).append((n, piece.count))
    kinds = [
        PieceKind(
            shapes=shapes,
            count=sum(count for _, count in theirs),
            owners=tuple(theirs),
            clamped=max(shapes[0].long_a, shapes[0].long_b) >= job.clamp_nm,
        )
        for shapes, theirs in owners.items()
    ]
    return tuple(sorted(kinds, key=lambda kind: -kind.doubled))


def _stocks(job: NestJob) -> tuple[StockKind, ...]:
    alike: dict[tuple[int, int, Fraction], list[tuple[int, int | None]]] = {}
    for n, stock in enumerate(job.stock):
        trim: int = job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm
        if stock.length_nm <= 2 * trim or stock.count == 0:
            continue
        cost = exact_fraction(length_as_number(stock.length_nm, job.unit) if stock.cost is None else stock.cost)
        alike.setdefault((stock.length_nm, trim, cost), []).append((n, stock.count))
    made = []
    for (length, trim, cost), theirs in alike.items():
        counts = [count for _, count in theirs if count is not None]
        made.append(
            StockKind(
                owners=tuple(sorted(theirs, key=lambda owner: owner[1] is None)),
                length_nm=length,
                trim_nm=trim,
                room_nm=length - 2 * trim,
                cost=cost,
                count=sum(counts) if len(counts) == len(theirs) else None,
            )
        )
    return tuple(sorted(made, key=lambda stock: (stock.room_nm, stock.cost)))


def require_fit(model: NestingModel) -> None:
    """Raise NoPlan naming each piece that no stock on offer can hold, even alone."""
    faults = []
    longest = max((stock.room_nm for stock in model.stocks), default=0)
    for kind in model.kinds:
        if room_alone_nm(model, kind) <= longest:
            continue
        for n, _ in kind.owners:
            piece, unit = model.job.pieces[n], model.job.unit
            need = show_length(room_alone_nm(model, kind), unit)
            have = show_length(longest, unit) if model.stocks else "no stock"
            faults.append(
                FieldFault(
                    f"pieces[{n}]",
                    f"{piece.id!r} needs {need} of bar, and the longest that the stock leaves free is {have}",
                    "longer stock, or a shorter piece",
                )
            )
    if faults:
        raise NoPlan(*faults)


def room_alone_nm(model: NestingModel, kind: PieceKind) -> int:
    """Return the room that a piece needs on a bar of its own; the clamp counted where it does not hold the piece."""
    shape = kind.shapes[0]
    span = max(shape.start, 0) + shape.long_a + max(-shape.end, 0)
    return span if kind.clamped else span + model.clamp_nm
