"""From marked pieces to nesting jobs, and back: bars whose slots hold real pieces."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from fractions import Fraction

from solver.domain.cut_plan import Bar, BarPiece, NestJob, NestResult, PieceKind, StockLength, Turn
from solver.domain.ids import BarId, MaterialId, StockId
from solver.domain.piece import Piece
from solver.domain.plant import PanelFamily, Plant, Profile, StockPrice
from solver.errors import FieldFault, InputError
from solver.units import MM, Cents, Nm, round_half_up

Shape = tuple[tuple[int, int], tuple[int, int], tuple[Turn, ...]]


def jobs_for(pieces: Sequence[Piece], plant: Plant) -> tuple[tuple[MaterialId, NestJob], ...]:
    """Return one nesting job for each material among the pieces, in the order in which materials first come.

    Stock: remnants and bars on hand, the listed lengths, and panels laminated to length beyond those, in whole steps
    and without end trim. Costs are cents. Raises InputError for a material that the plant does not list.
    """
    by_material: dict[MaterialId, list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_material[piece.material].append(piece)
    return tuple((material, _job(material, mine, plant)) for material, mine in by_material.items())


def assign(material: MaterialId, job: NestJob, result: NestResult, pieces: Sequence[Piece]) -> tuple[Bar, ...]:
    """Return every bar of the plan with marked pieces in its slots, earlier standing pieces in earlier bars.

    The pieces are those from which `jobs_for` made the job. Raises ValueError when they are not.
    """
    kind_of = {_shape_of_kind(kind): kind.id for kind in job.pieces}
    waiting: dict[str, list[Piece]] = defaultdict(list)
    for piece in sorted(pieces, key=lambda piece: (piece.order, piece.stands, piece.id), reverse=True):
        waiting[kind_of[_shape(piece)]].append(piece)
    length = {stock.id: stock.length_nm for stock in job.stock}
    bars: list[Bar] = []
    for cut in result.bars:
        for _ in range(cut.repeat):
            slots = []
            for placed in cut.pieces:
                if not waiting[placed.id]:
                    raise ValueError(f"no piece is left for kind {placed.id!r} of {material!r}")
                piece = waiting[placed.id].pop()
                slots.append(BarPiece(piece=piece.id, turn=placed.turn, edge_a=placed.edge_a, edge_b=placed.edge_b))
            bars.append(
                Bar(
                    id=BarId(f"{material}#{len(bars) + 1:03d}"),
                    material=material,
                    stock=cut.stock,
                    length_nm=length[cut.stock],
                    drop_nm=cut.drop_nm,
                    pieces=tuple(slots),
                )
            )
    left = [str(piece.id) for mine in waiting.values() for piece in mine]
    if left and result.bars:
        raise ValueError(f"no slot for {', '.join(left[:5])} of {material!r}")
    return tuple(bars)


def _shape(piece: Piece) -> Shape:
    """Return what the saw must know: the edges from the piece's nearest point, a peaked piece square at its peak."""
    turns = tuple(sorted(set(piece.turns)))
    if piece.peak_nm is not None:
        return (0, piece.length_nm), (0, piece.length_nm), turns
    low = min(piece.edge_a[0], piece.edge_b[0])
    edge_a = (piece.edge_a[0] - low, piece.edge_a[1] - low)
    edge_b = (piece.edge_b[0] - low, piece.edge_b[1] - low)
    return edge_a, edge_b, turns


def _shape_of_kind(kind: PieceKind) -> Shape:
    if kind.edge_a is None or kind.edge_b is None:
        raise ValueError(f"kind {kind.id!r} was not made from marked pieces")
    return kind.edge_a, kind.edge_b, tuple(sorted(kind.turns or ("as_is",)))


def _job(material: MaterialId, pieces: Sequence[Piece], plant: Plant) -> NestJob:
    counts: dict[Shape, int] = defaultdict(int)
    for piece in pieces:
        counts[_shape(piece)] += 1
    kinds = tuple(
        PieceKind(
            id=f"K{n + 1}",
            edge_a=(Nm(edge_a[0]), Nm(edge_a[1])),
            edge_b=(Nm(edge_b[0]), Nm(edge_b[1])),
            count=count,
            turns=turns,
        )
        for n, ((edge_a, edge_b, turns), count) in enumerate(counts.items())
    )
    panel = pieces[0].is_panel
    saw = plant.saw if panel else plant.trim_saw
    width = max(piece.width_nm for piece in pieces)
    return NestJob(
        unit=plant.unit,
        kerf_nm=saw.kerf_nm,
        end_trim_nm=saw.end_trim_nm,
        clamp_nm=saw.clamp_nm,
        width_nm=width,
        keep_from_nm=plant.keeping.panel_from_nm if panel else plant.keeping.trim_from_nm,
        keep_value=plant.keeping.value,
        stock=tuple(_stock(material, plant, width, panel=panel)),
        pieces=kinds,
    )


def _stock(material: MaterialId, plant: Plant, width: int, *, panel: bool) -> Iterable[StockLength]:
    listed: tuple[StockPrice, ...]
    made: PanelFamily | None = None
    name = material.split("|")[0]
    try:
        if panel:
            made = plant.family(name)
            listed = made.stock
        else:
            listed = _profile(plant, name).stock
    except KeyError as error:
        fault = FieldFault("material", f"{material!r} is not of this plant", "a family or profile of the catalog")
        raise InputError(fault) from error
    yield from _on_hand(material, plant, listed, width)
    for item in listed:
        yield StockLength(id=StockId(f"new {_name(item.length_nm)}"), length_nm=item.length_nm, cost=float(item.price_cents))
    if made is not None and made.made_cents_per_m:
        yield from _laminated(made)


def _profile(plant: Plant, name: str) -> Profile:
    return plant.profile(name)


def _on_hand(material: MaterialId, plant: Plant, listed: Sequence[StockPrice], width: int) -> Iterable[StockLength]:
    """Yield what is on the rack: bars at their list price, as new ones take their place, remnants at what keeping is worth."""
    for n, remnant in enumerate(plant.remnants):
        if remnant.material == material and remnant.joints == "both" and (remnant.width_nm or width) >= width:
            worth = round_half_up(Fraction(repr(plant.keeping.value)) * _price(remnant.length_nm, listed))
            yield StockLength(id=remnant.id or StockId(f"remnant {n}"), length_nm=remnant.length_nm, cost=float(worth), count=1)
    for n, item in enumerate(plant.stock_on_hand):
        if item.material == material and item.count:
            yield StockLength(
                id=StockId(f"rack {_name(item.length_nm)} ({n + 1})"),
                length_nm=item.length_nm,
                cost=float(_price(item.length_nm, listed)),
                count=item.count,
            )


def _price(length_nm: int, listed: Sequence[StockPrice]) -> Cents:
    """Return the list price of a length; of one that is not listed, its share of the next longer (else the longest)."""
    longer = [item for item in sorted(listed, key=lambda item: item.length_nm) if item.length_nm >= length_nm]
    base = longer[0] if longer else max(listed, key=lambda item: item.length_nm)
    return Cents(round_half_up(Fraction(base.price_cents * length_nm, base.length_nm)))


def _laminated(family: PanelFamily) -> Iterable[StockLength]:
    """Yield bars laminated to length: whole steps beyond the longest listed, to the longest that can be made."""
    step = family.made_step_nm
    first = max(item.length_nm for item in family.stock) // step + 1
    for n in range(first, family.longest_nm // step + 1):
        length = n * step
        price = round_half_up(Fraction(family.made_cents_per_m * length, 1000 * MM))
        yield StockLength(id=StockId(f"made {_name(length)}"), length_nm=Nm(length), cost=float(price), end_trim_nm=Nm(0))


def _name(length_nm: int) -> str:
    feet = Fraction(length_nm, 12 * 25_400_000)
    return f"{feet.numerator} ft" if feet.denominator == 1 else f"{round(length_nm / MM)} mm"
