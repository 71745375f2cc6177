"""How a plant plans by hand, each rule as plain as it is told on the floor (common practice, no source).

- Bars: order by order, each material by first fit in order of standing: a piece goes on the first bar of its order that has
  room behind the last cut, else on a bar from the rack, else on a new one. New bars of a material are of the one listed
  length that comes cheapest for the order, as somebody with a calculator finds it; a longer piece has the shortest bar that
  holds it. Orders share no bar, rips no blank, nothing comes from drops, nothing is turned.
- Bundles: panels in reverse order of standing, one on the other, closed at four fifths of the weight and height allowed or
  where the next would not lie on the one below; trims and small parts within the same margin.
- Trucks: in order of need, what is needed last first on: two rows where widths allow, two high where the lower one bears
  it; a truck is closed when the next bundle finds no place. Each delivery has its own; the last truck is the cheapest that
  holds the rest.
- Machines: each takes of what waits what is due first. The press is filled with bars of one material, those of the order due
  next after those of the one before. Crews and rooms are taken to be without limit, which favours the hand.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from solver.bundling.job import stack_job
from solver.bundling.layout import lay_out_panel_bundle
from solver.bundling.rules import may_lie_on
from solver.bundling.stack import stack
from solver.domain.bundle import Bundle, BundleLimits, StackJob, StackPiece
from solver.domain.cut_plan import Bar, BarPiece, CutPlan, NestJob, NestResult
from solver.domain.ids import BarId, BundleId, LoadId, MaterialId, OrderId, StockId
from solver.domain.load import Deck, Load, LoadBundle, LoadJob, LoadResult, PlacedBundle
from solver.domain.piece import Piece
from solver.domain.plan import LoadPart
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import ScheduleJob
from solver.loading.job import load_job
from solver.search import Search
from solver.units import Grams, Nm

MARGIN = (4, 5)  # of the weight and the height allowed
METRE_NM = 1_000_000_000


@dataclass(slots=True)
class OpenBar:
    """A bar in the making: where its last cut ends, and what lies on it."""

    stock: str
    length_nm: int
    far_nm: int
    at_nm: int
    pieces: list[BarPiece] = field(default_factory=list)


@dataclass(slots=True)
class Rack:
    """Bars on hand, by material and length."""

    left: Counter[tuple[str, int]]

    def take(self, material: str, blank_nm: int, spare_nm: int) -> int | None:
        """Take the shortest bar on hand that holds a blank; return its length."""
        fits = [long for (name, long), n in self.left.items() if n and name == material and long - spare_nm >= blank_nm]
        if not fits:
            return None
        self.left[material, min(fits)] -= 1
        return min(fits)


def cut_by_hand(takeoffs: Sequence[Takeoff], plant: Plant, stock: StockSnapshot) -> tuple[CutPlan, ...]:
    """Return the bars of all orders, a cut plan for each material, its bars order by order in the sequence given."""
    rack = Rack(Counter())
    for item in stock.bars:
        rack.left[item.material, item.length_nm] += item.count
    made: dict[MaterialId, list[Bar]] = defaultdict(list)
    for takeoff in takeoffs:
        groups: dict[MaterialId, list[Piece]] = defaultdict(list)
        for piece in sorted(takeoff.pieces, key=lambda piece: piece.stands):
            groups[piece.material].append(piece)
        for material, mine in groups.items():
            opened = _cheapest(mine, plant, rack)
            made[material] += [_bar(material, len(made[material]) + at, one) for at, one in enumerate(opened, 1)]
    return tuple(_cut_plan(material, tuple(bars)) for material, bars in made.items())


def _bar(material: MaterialId, number: int, one: OpenBar) -> Bar:
    drop = max(0, one.far_nm - one.at_nm)
    return Bar(
        id=BarId(f"{material}#{number:04d}"),
        material=material,
        stock=StockId(one.stock),
        length_nm=Nm(one.length_nm),
        drop_nm=Nm(drop),
        pieces=tuple(one.pieces),
    )


def _cut_plan(material: MaterialId, bars: tuple[Bar, ...]) -> CutPlan:
    result = NestResult(status="feasible", cost=None, lower_bound=0.0, waste=None, seconds=0.0, bars=())
    return CutPlan(material=material, job=NestJob(stock=(), pieces=()), result=result, bars=bars)


def _listed(material: str, plant: Plant) -> dict[int, float]:
    """Return the price of each length that can be had: listed ones, then laminated to length in whole steps."""
    name = material.split("|", maxsplit=1)[0]
    family = next((one for one in plant.families if one.id == name), None)
    if family is None:
        return {item.length_nm: float(item.price_cents) for one in plant.profiles if one.id == name for item in one.stock}
    prices: dict[int, float] = {item.length_nm: float(item.price_cents) for item in family.stock}
    if family.made_cents_per_m:
        step, longest = family.made_step_nm, max(prices)
        first = longest // step + 1
        for n in range(first, family.longest_nm // step + 1):
            prices[n * step] = float(round(family.made_cents_per_m * n * step / METRE_NM))
    return prices


def _cheapest(pieces: Sequence[Piece], plant: Plant, rack: Rack) -> list[OpenBar]:
    """Return the bars of an order's material, new ones of the listed length that costs least in all."""
    prices, panel = _listed(pieces[0].material, plant), pieces[0].is_panel
    longest = max(_stock_lengths(pieces[0].material, plant))
    best: tuple[float, list[OpenBar], Rack] | None = None
    for length in sorted(length for length in prices if length <= longest):
        mine = Rack(rack.left.copy())
        bars = list(_first_fit(pieces, plant, mine, prices, length, longest if panel else None))
        cost = sum(prices[bar.length_nm] for bar in bars)
        if best is None or cost < best[0]:
            best = (cost, bars, mine)
    assert best is not None  # every material has a length
    rack.left = best[2].left
    return best[1]


def _stock_lengths(material: str, plant: Plant) -> list[int]:
    name = material.split("|", maxsplit=1)[0]
    listed = [one.stock for one in plant.families if one.id == name] + [one.stock for one in plant.profiles if one.id == name]
    return [item.length_nm for stock in listed for item in stock]


def _first_fit(
    pieces: Sequence[Piece], plant: Plant, rack: Rack, prices: Mapping[int, float], usual: int, made_over: int | None
) -> Iterable[OpenBar]:
    saw = plant.saw if pieces[0].is_panel else plant.trim_saw
    bars: list[OpenBar] = []
    for piece in pieces:
        long = int(piece.length_nm)
        bar = next((one for one in bars if _fits(one, long, saw.clamp_nm)), None)
        if bar is None:
            bar = _new_bar(piece, rack, prices, usual, made_over, saw.end_trim_nm)
            bars.append(bar)
        bar.pieces.append(_placed(piece, bar.at_nm))
        bar.at_nm += long + saw.kerf_nm
    return bars


def _fits(bar: OpenBar, long_nm: int, clamp_nm: int) -> bool:
    """Whether a piece fits behind the last cut, and the clamp holds it or has its dead length."""
    end = bar.at_nm + long_nm
    return end <= bar.far_nm and (long_nm >= clamp_nm or end <= bar.far_nm - clamp_nm)


def _new_bar(piece: Piece, rack: Rack, prices: Mapping[int, float], usual: int, made_over: int | None, trim_nm: int) -> OpenBar:
    """A bar from the rack, else of the usual length, else of the shortest that holds the piece."""
    held = rack.take(piece.material, piece.length_nm, 2 * trim_nm)
    if held is not None:
        return OpenBar("rack", held, held - trim_nm, trim_nm)
    for length in (usual, *sorted(prices)):
        made = made_over is not None and length > made_over
        trim = 0 if made else trim_nm
        if length - 2 * trim >= piece.length_nm:
            return OpenBar("made by hand" if made else "new by hand", length, length - trim, trim)
    raise ValueError(f"{piece.id} is longer than any bar")


def _placed(piece: Piece, at_nm: int) -> BarPiece:
    shift = at_nm - piece.zero_nm
    edge_a = (Nm(piece.edge_a[0] + shift), Nm(piece.edge_a[1] + shift))
    edge_b = (Nm(piece.edge_b[0] + shift), Nm(piece.edge_b[1] + shift))
    if piece.peak_nm is not None:
        edge_a = edge_b = (Nm(at_nm), Nm(at_nm + piece.length_nm))
    return BarPiece(piece=piece.id, turn="as_is", edge_a=edge_a, edge_b=edge_b)


def bundles_by_hand(takeoff: Takeoff, plant: Plant) -> tuple[Bundle, ...]:
    """Return the bundles of an order in order of need, start boxes first."""
    house = takeoff.building
    whole = stack_job(takeoff.pieces, plant, house.deliveries, takeoff.hardware)
    limits = replace(
        whole.limits,
        weight_g=Grams(whole.limits.weight_g * MARGIN[0] // MARGIN[1]),
        height_nm=Nm(whole.limits.height_nm * MARGIN[0] // MARGIN[1]),
    )
    panels = [piece for piece in whole.pieces if piece.kind == "panel"]
    others = tuple(piece for piece in whole.pieces if piece.kind != "panel")
    rest = _within_margin(replace(whole, pieces=others), limits)
    shares: dict[str | None, list[StackPiece]] = defaultdict(list)
    for piece in sorted(panels, key=lambda piece: -piece.stands):
        shares[piece.delivery].append(piece)
    stacked = [lay_out_panel_bundle(run, whole.limits) for mine in shares.values() for run in _by_eye(mine, limits)]
    ordered = sorted((*rest, *stacked), key=lambda bundle: (not bundle.items, bundle.first_stands))
    return tuple(replace(one, id=BundleId(f"{house.order}/H{n:03d}")) for n, one in enumerate(ordered, 1))


def _within_margin(job: StackJob, limits: BundleLimits) -> tuple[Bundle, ...]:
    return stack(replace(job, limits=limits), Search(left_s=lambda: 0.0)).bundles


def _by_eye(pieces: Sequence[StackPiece], limits: BundleLimits) -> Iterator[list[StackPiece]]:
    """Give stacks, bottom first: the piece that stands last lies lowest."""
    run: list[StackPiece] = []
    for piece in pieces:
        weight = sum(one.weight_g for one in run) + piece.weight_g
        height = limits.dunnage_nm + sum(one.thickness_nm for one in run) + piece.thickness_nm
        full = weight > limits.weight_g or height > limits.height_nm
        if run and (full or not may_lie_on(piece, run[-1], limits)):
            yield run
            run = []
        run.append(piece)
    if run:
        yield run


def loads_by_hand(bundles: Sequence[Bundle], takeoff: Takeoff, plant: Plant) -> LoadPart:
    """Return the trucks of an order, in order of need."""
    order = takeoff.building.order
    job = load_job(bundles, takeoff.building, plant)
    trips: dict[str | None, list[LoadBundle]] = defaultdict(list)
    for bundle in job.bundles:
        trips[bundle.trip].append(bundle)
    made: list[Load] = []
    for mine in trips.values():
        left = mine
        while left:
            deck, held = _next_truck(left, plant.decks, job)
            made.append(_load(order, len(made) + 1, deck, held))
            names = {bundle.id for bundle, *_ in held}
            left = [bundle for bundle in left if bundle.id not in names]
    result = LoadResult(status="feasible", loads=tuple(made), cost=None, lower_bound=0.0, seconds=0.0, trucks=len(made))
    return LoadPart(order=order, job=job, result=result)


Placed = tuple[LoadBundle, int, int, int]  # where it stands: x, y, z


def _next_truck(left: Sequence[LoadBundle], decks: Sequence[Deck], job: LoadJob) -> tuple[Deck, list[Placed]]:
    """The cheapest deck that holds all that is left; else the longest, filled with what is needed first."""
    for deck in sorted(decks, key=lambda deck: deck.cost):
        held = _filled(left, deck, job)
        if len(held) == len(left):
            return deck, held
    longest = max(decks, key=lambda deck: (deck.length_nm, deck.payload_g))
    for count in range(len(left), 0, -1):
        held = _filled(left[:count], longest, job)
        if len(held) == count:
            return longest, held
    raise ValueError(f"{left[0].id} fits no deck")


def _filled(bundles: Sequence[LoadBundle], deck: Deck, job: LoadJob) -> list[Placed]:
    """What of the bundles goes on, the last needed first; it stops where the next finds no place."""
    high = job.rules.height_limit_nm - deck.height_nm
    wide = min(deck.width_nm, job.rules.width_limit_nm)
    rows, weight = [0, 0], 0
    below: dict[int, LoadBundle] = {}
    held: list[Placed] = []
    for bundle in reversed(bundles):
        weight += bundle.weight_g
        if weight > deck.payload_g:
            return held
        whole = 2 * bundle.width_nm > wide
        base = next((n for n, one in below.items() if _bears(one, bundle, high)), None)
        if base is not None:
            _, x, y, _ = next(place for place in held if place[0].id == below[base].id)
            held.append((bundle, x, y, int(below.pop(base).height_nm)))
            continue
        row = min((0, 1), key=lambda n: rows[n])
        x = max(rows) if whole else rows[row]
        if x + bundle.length_nm > deck.length_nm or bundle.height_nm > high or bundle.width_nm > wide:
            return held
        held.append((bundle, x, 0 if whole or row == 0 else int(wide) // 2, 0))
        below[len(held)] = bundle
        for n in (0, 1) if whole else (row,):
            rows[n] = int(x + bundle.length_nm)
    return held


def _bears(low: LoadBundle, top: LoadBundle, high_nm: int) -> bool:
    fits = low.height_nm + top.height_nm <= high_nm and top.length_nm <= low.length_nm and top.width_nm <= low.width_nm
    return fits and top.weight_g <= (low.may_carry_g or 0)


def _load(order: OrderId, number: int, deck: Deck, held: Sequence[Placed]) -> Load:
    placed = tuple(PlacedBundle(bundle=one.id, x_nm=Nm(x), y_nm=Nm(y), z_nm=Nm(z)) for one, x, y, z in held)
    weight = Grams(sum(one.weight_g for one, *_ in held))
    return Load(id=LoadId(f"{order}/L{number:02d}"), deck=deck.id, placed=placed, weight_g=weight)


def with_dues(task: ScheduleJob) -> ScheduleJob:
    """Return the job where all work is due when the first of what waits for it is: what a due date means on the floor."""
    due = {job.id: job.due for job in task.jobs}
    after = {job.id: job.after for job in task.jobs}
    waiting = sorted(((at, name) for name, at in due.items() if at is not None), reverse=True)
    while waiting:
        at, name = waiting.pop()  # the earliest first: each is told its due once
        for other in after[name]:
            known = due.get(other)
            if known is None or at < known:
                due[other] = at
                waiting.append((at, other))
    return replace(task, jobs=tuple(replace(job, due=due[job.id]) for job in task.jobs))
