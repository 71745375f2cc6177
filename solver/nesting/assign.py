"""From marked pieces to nesting jobs, and back: bars whose slots hold real pieces."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from solver.domain.cut_plan import Bar, BarPiece, NestJob, NestResult, PieceKind, PlacedPiece, StockLength, Turn, Way
from solver.domain.ids import MaterialId, StockId, bar_id
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plant import PanelFamily, Plant, Profile, StockPrice
from solver.domain.stock import StockOnHand, StockSnapshot
from solver.errors import FieldFault, InputError
from solver.nesting.blanks import Blank, Blanks, blank_per_piece, pieces_in_openings
from solver.nesting.shapes import gap_nm
from solver.units import MM, Cents, Nm, round_half_up

Shape = tuple[tuple[int, int], tuple[int, int], tuple[Turn, ...]]


def pieces_by_material(pieces: Iterable[Piece]) -> dict[MaterialId, list[Piece]]:
    """Return the pieces by material, in the order in which materials first come."""
    made: dict[MaterialId, list[Piece]] = defaultdict(list)
    for piece in pieces:
        made[piece.material].append(piece)
    return made


def nesting_jobs(pieces: Sequence[Piece], plant: Plant, stock: StockSnapshot) -> tuple[tuple[MaterialId, NestJob], ...]:
    """Return one nesting job for each material among the pieces, each piece on a blank of its own. Raises InputError."""
    return tuple(
        (material, nesting_job(blank_per_piece(mine), plant, stock)) for material, mine in pieces_by_material(pieces).items()
    )


def nesting_job(blanks: Blanks, plant: Plant, stock: StockSnapshot) -> NestJob:
    """Return the nesting job of one material's blanks.

    Stock: remnants and bars on hand, the listed lengths, and panels laminated to length beyond those, in whole steps
    and without end trim. Costs are cents. Raises InputError for a material that the plant does not list.
    """
    counts = Counter(_shape(blank) for blank in blanks.blanks)
    return replace(_empty_job(blanks.pieces, plant, stock), pieces=_kinds(counts))


def relaxed_job(job: NestJob, blanks: Blanks) -> NestJob | None:
    """Return a job whose bound holds however rips share blanks and whatever comes from drops; None: the job's own does.

    Each of its pieces needs a blank of its own in any plan. One that could lie in a longer, square blank is shortened at
    its sloped ends by what a sloped cut takes more than a square one: so it fits wherever that blank did.
    """
    alike = Counter((_shape(Blank((piece,))), piece.id in blanks.shared) for piece in blanks.needed)
    counts: Counter[Shape] = Counter()
    for (shape, shared), count in alike.items():
        least = _narrowed(shape, job) if shared else shape
        if least is not None:
            counts[least] += count
    kinds = _kinds(counts)
    if {_shape_of_kind(kind): kind.count for kind in job.pieces} == counts:
        return None
    return replace(job, pieces=kinds, clamp_nm=Nm(0))


def _narrowed(shape: Shape, job: NestJob) -> Shape | None:
    (a0, a1), (b0, b1), turns = shape
    near, far = (gap_nm(job.kerf_nm, job.width_nm, abs(lean)) - job.kerf_nm for lean in (a0 - b0, a1 - b1))
    edge_a, edge_b = (a0 + near, a1 - far), (b0 + near, b1 - far)
    if edge_a[1] <= edge_a[0] or edge_b[1] <= edge_b[0]:
        return None
    low = min(edge_a[0], edge_b[0])
    return (edge_a[0] - low, edge_a[1] - low), (edge_b[0] - low, edge_b[1] - low), turns


def assign_pieces(material: MaterialId, job: NestJob, result: NestResult, pieces: Sequence[Piece]) -> tuple[Bar, ...]:
    """Return every bar of the plan with marked pieces in its slots. Each piece has a blank of its own; see `assign_blanks`."""
    return assign_blanks(material, job, result, blank_per_piece(pieces))


def assign_blanks(material: MaterialId, job: NestJob, result: NestResult, blanks: Blanks) -> tuple[Bar, ...]:
    """Return every bar of the plan with marked pieces in its slots, earlier standing pieces in earlier bars.

    The blanks are those from which `nesting_job` made the job. Raises ValueError when they are not.
    """
    kind_of = {_shape_of_kind(kind): kind.id for kind in job.pieces}
    waiting: dict[str, list[Blank]] = defaultdict(list)
    for blank in sorted(blanks.blanks, key=_stands, reverse=True):
        waiting[kind_of[_shape(blank)]].append(blank)
    fallen = pieces_in_openings(blanks)
    length = {stock.id: stock.length_nm for stock in job.stock}
    bars: list[Bar] = []
    for cut in result.bars:
        for _ in range(cut.repeat):
            slots: list[BarPiece] = []
            for placed in cut.pieces:
                if not waiting[placed.id]:
                    raise ValueError(f"no piece is left for kind {placed.id!r} of {material!r}")
                slots.extend(_slots(waiting[placed.id].pop(), placed))
            for item in tuple(slots):
                slots.extend(
                    replace(item, piece=name, way="drop", turn="as_is", host=item.piece, opening=opening)
                    for name, opening in fallen.get(item.piece, ())
                )
            bars.append(
                Bar(
                    id=bar_id(material, len(bars) + 1),
                    material=material,
                    stock=cut.stock,
                    length_nm=length[cut.stock],
                    drop_nm=cut.drop_nm,
                    pieces=tuple(slots),
                )
            )
    left = [str(piece.id) for mine in waiting.values() for blank in mine for piece in blank.pieces]
    if left and (result.bars or result.status == "optimal"):
        raise ValueError(f"no slot for {', '.join(left[:5])} of {material!r}")
    return tuple(bars)


def _stands(blank: Blank) -> tuple[str, int, str]:
    return min((piece.order, piece.stands, piece.id) for piece in blank.pieces)


def _slots(blank: Blank, placed: PlacedPiece) -> Iterable[BarPiece]:
    ways: tuple[Way, ...] = ("whole",) if len(blank.pieces) == 1 else ("left_rip", "right_rip")
    for piece, way in zip(blank.pieces, ways, strict=True):
        yield BarPiece(piece=piece.id, turn=placed.turn, edge_a=placed.edge_a, edge_b=placed.edge_b, way=way)


def remnant_bars(material: MaterialId, blanks: Blanks, plant: Plant, stock: StockSnapshot, *, after: int) -> tuple[Bar, ...]:
    """Return a bar for each remnant, that no whole panel fits, from which pieces come; numbered behind `after` others."""
    by_id = {str(piece.id): piece for piece in blanks.pieces}
    rack = {item.id: item for item in stock.remnants}
    made: list[Bar] = []
    for use in blanks.uses:
        if use.drop in blanks.fallen_drops:
            continue
        at, slots = 0, []
        for name in use.pieces:
            piece = by_id[name]
            edge_a, edge_b, _ = _shape(Blank((piece,)))
            spot_a, spot_b = (Nm(edge_a[0] + at), Nm(edge_a[1] + at)), (Nm(edge_b[0] + at), Nm(edge_b[1] + at))
            slots.append(BarPiece(piece=piece.id, turn="as_is", edge_a=spot_a, edge_b=spot_b))
            at += piece.length_nm + plant.saw.kerf_nm
        held = rack[use.drop].length_nm
        made.append(
            Bar(
                id=bar_id(material, after + len(made) + 1),
                material=material,
                stock=use.drop,
                length_nm=held,
                drop_nm=Nm(max(0, held - at)),
                pieces=tuple(slots),
            )
        )
    return tuple(made)


def _shape(blank: Blank) -> Shape:
    """Return what the saw must know: the edges from the piece's nearest point; square at its peak, or for two rips."""
    if len(blank.pieces) > 1:
        return (0, blank.length_nm), (0, blank.length_nm), ("as_is",)
    (piece,) = blank.pieces
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


def _kinds(counts: Mapping[Shape, int]) -> tuple[PieceKind, ...]:
    return tuple(
        PieceKind(
            id=f"K{n + 1}",
            edge_a=(Nm(edge_a[0]), Nm(edge_a[1])),
            edge_b=(Nm(edge_b[0]), Nm(edge_b[1])),
            count=count,
            turns=turns,
        )
        for n, ((edge_a, edge_b, turns), count) in enumerate(counts.items())
    )


def _empty_job(pieces: Sequence[Piece], plant: Plant, stock: StockSnapshot) -> NestJob:
    """Return the job of these pieces' material, its stock and the saw's rules, with no pieces yet."""
    material, panel = pieces[0].material, pieces[0].is_panel
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
        stock=tuple(_stock(material, plant, stock, width, panel=panel)),
        pieces=(),
    )


def _stock(material: MaterialId, plant: Plant, stock: StockSnapshot, width: int, *, panel: bool) -> Iterable[StockLength]:
    listed: tuple[StockPrice, ...]
    made: PanelFamily | None = None
    name = Material.parse(material).item
    try:
        if panel:
            made = plant.family(name)
            listed = made.stock
        else:
            listed = _profile(plant, name).stock
    except KeyError as error:
        fault = FieldFault("material", f"{material!r} is not of this plant", "a family or profile of the catalog")
        raise InputError(fault) from error
    yield from _on_hand(material, plant, stock, listed, width)
    for item in listed:
        yield StockLength(id=StockId(f"new {_name(item.length_nm)}"), length_nm=item.length_nm, cost=float(item.price_cents))
    if made is not None and made.made_cents_per_m:
        yield from _laminated(made)


def _profile(plant: Plant, name: str) -> Profile:
    return plant.profile(name)


def _on_hand(
    material: MaterialId, plant: Plant, stock: StockSnapshot, listed: Sequence[StockPrice], width: int
) -> Iterable[StockLength]:
    """Yield what is on the rack: bars at their list price, as new ones take their place, remnants at what keeping is worth."""
    for n, remnant in enumerate(stock.remnants):
        if remnant.material == material and remnant.joints == "both" and (remnant.width_nm or width) >= width:
            worth = round_half_up(Fraction(repr(plant.keeping.value)) * _price(remnant.length_nm, listed))
            yield StockLength(id=remnant.id or StockId(f"remnant {n}"), length_nm=remnant.length_nm, cost=float(worth), count=1)
    for n, item in enumerate(stock.bars):
        if item.material == material and item.count:
            yield StockLength(
                id=rack_id(item, n),
                length_nm=item.length_nm,
                cost=float(_price(item.length_nm, listed)),
                count=item.count,
            )


def rack_id(item: StockOnHand, place: int) -> StockId:
    """Return how plans name the bars on hand that a snapshot lists at a place, counted from 0."""
    return item.id or StockId(f"rack {_name(item.length_nm)} ({place + 1})")


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
