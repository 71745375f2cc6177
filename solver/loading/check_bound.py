"""Judge the bounds of a load: what weighs, what stands on ground of its own, and room in scales, trip by trip.

Scales map sizes in a room to shares that never sum to more than 1 over what fits side by side; products of such shares
of length, width and height sum to at most 1 over what fits a deck (conservative scales: Fekete and Schepers 2004,
Mathematical Methods of Operations Research 60: 311-329). A room as long, wide and high as any deck's stands for all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import product

import numpy as np

from solver.domain.certificate import BoundReport, State
from solver.domain.load import Deck, LoadBundle, LoadJob, LoadResult

MOST_SIZES = 24  # of one direction that scales are made from
MOST_MIXTURES = 100_000
Scale = Callable[[int, int], Fraction]
Need = tuple[Fraction, tuple[Fraction, ...]]  # of each bundle what it takes of a deck, and at most how much a deck has


def verify_bounds(job: LoadJob, result: LoadResult) -> tuple[BoundReport, ...]:
    """Return how far the bounds of trucks and of the decks' cost are carried by exact arithmetic."""
    if not job.bundles:
        return ()
    least = [trucks_bound_of_trip(job, bundles)[0] for bundles in bundles_by_trip(job)]
    claimed, proved = result.trucks_lower_bound, sum(least)
    kind = None if result.certificate is None else result.certificate.kind
    if kind == "weight" and any(bundle.may_carry_g is None for bundle in job.bundles):
        kind = None  # what these may carry depends on their timbers, which are not looked at here
    said = "weight, ground that cannot be shared, and room in scales"
    trucks = _report("trucks_lower_bound", float(claimed), float(proved), kind, said)
    dearest = max(proved, claimed if trucks.state == "confirmed" else 0)
    cost = max(dearest * min(deck.cost for deck in job.decks), _cheapest(job, dearest))
    said = "so many of the cheapest decks, with payload and room for all"
    return (trucks, _report("lower_bound", result.lower_bound, cost, None if kind == "weight" else kind, said))


def _report(about: str, claimed: float, proved: float, kind: str | None, said: str) -> BoundReport:
    state: State = "confirmed" if claimed <= proved * (1 + 1e-9) else "unconfirmed"
    if state == "unconfirmed" and kind == "weight":
        state = "refuted"
    elif state == "unconfirmed" and kind == "search":
        said += "; beyond that dearer scales and a search over what could stand where"
    if state == "confirmed":
        kind = "room"
    return BoundReport(about=about, state=state, claimed=claimed, proved=proved, kind=kind, by=said)  # type: ignore[arg-type]


def bundles_by_trip(job: LoadJob) -> list[list[LoadBundle]]:
    """Return the bundles of each trip: trips never share a truck."""
    trips: dict[str | None, list[LoadBundle]] = {}
    for bundle in job.bundles:
        trips.setdefault(bundle.trip, []).append(bundle)
    return list(trips.values())


def trucks_bound_of_trip(job: LoadJob, bundles: Sequence[LoadBundle]) -> tuple[int, list[list[Fraction]]]:
    """Return trucks that a trip needs at least, and shares of each bundle that sum to at most 1 on any deck."""
    room = largest_room(job)
    payload = max(deck.payload_g for deck in job.decks)
    rows = [[Fraction(bundle.weight_g, payload) for bundle in bundles]]
    lightest = min(bundle.weight_g for bundle in bundles)
    rows.append(
        [
            Fraction(one.length_nm * one.width_nm, room[0] * room[1])
            if one.may_carry_g is not None and one.may_carry_g < lightest
            else Fraction(0)
            for one in bundles
        ]
    )
    rows.append([Fraction(_sides(one)[0] * _sides(one)[1] * _sides(one)[2], room[0] * room[1] * room[2]) for one in bundles])
    rows.append(_in_scales(bundles, room))
    most = max(sum(row, Fraction(0)) for row in rows)
    return max(1, -(-most.numerator // most.denominator)), rows


def largest_room(job: LoadJob) -> tuple[int, int, int]:
    """Return a room as long, wide and high as any deck of the job offers."""
    rules = job.rules
    legal = 2_550_000_000 if rules.rule_set == "EU" else 102 * 25_400_000
    limit = min(legal, rules.width_limit_nm)
    permitted = rules.permit_width_nm if rules.permit else None
    widths = [permitted if permitted is not None else min(deck.width_nm, limit) for deck in job.decks]
    high = min(rules.height_limit_nm, 4_000_000_000) if rules.rule_set == "EU" else rules.height_limit_nm
    return max(deck.length_nm for deck in job.decks), max(widths), max(high - deck.height_nm for deck in job.decks)


def _sides(bundle: LoadBundle) -> tuple[int, int, int]:
    return bundle.length_nm, bundle.width_nm, bundle.height_nm


def _in_scales(bundles: Sequence[LoadBundle], room: tuple[int, int, int]) -> list[Fraction]:
    """Return the shares by the best triple of scales, found in floats and worked out exactly."""
    tables: list[list[dict[int, Fraction]]] = []
    floats = []
    for way in range(3):
        sizes = sorted({_sides(bundle)[way] for bundle in bundles})
        scales = _scales(sizes, room[way])
        tables.append([{size: scale(size, room[way]) for size in sizes} for scale in scales])
        floats.append(np.array([[float(table[_sides(bundle)[way]]) for bundle in bundles] for table in tables[way]]))
    sums = np.einsum("ai,bi,ci->abc", *floats, optimize=True)
    along, across, up = (int(place) for place in np.unravel_index(int(np.argmax(sums)), sums.shape))
    chosen = (tables[0][along], tables[1][across], tables[2][up])
    return [chosen[0][a] * chosen[1][b] * chosen[2][c] for a, b, c in map(_sides, bundles)]


def _scales(sizes: Sequence[int], room: int) -> list[Scale]:
    """Return scales of one direction: shares, whole parts of even divisions, and those that forget what is small."""
    halves = [size for size in sizes if 2 * size <= room] + [room - size for size in sizes if 2 * size > room]
    some = sorted({size for size in halves if size > 0})
    return [
        Fraction,
        *(_parts(parts) for parts in range(1, 8)),
        *(_without(small) for small in some[:: max(1, len(some) // MOST_SIZES)]),
    ]


def _parts(parts: int) -> Scale:
    def scale(size: int, room: int) -> Fraction:
        whole, rest = divmod((parts + 1) * size, room)
        return Fraction(size, room) if rest == 0 else Fraction(whole, parts)

    return scale


def _without(small: int) -> Scale:
    def scale(size: int, room: int) -> Fraction:
        if size + small > room:
            return Fraction(1)
        return Fraction(size, room) if size >= small else Fraction(0)

    return scale


def _cheapest(job: LoadJob, trucks: int) -> float:
    """Return the least cost of any decks, at least so many, with payload and volume for all; 0 where too many mixtures."""
    weight = sum(bundle.weight_g for bundle in job.bundles)
    volume = sum(a * b * c for a, b, c in map(_sides, job.bundles))
    room = largest_room(job)
    choices = [range((min(len(job.bundles), trucks + 2) if deck.count is None else deck.count) + 1) for deck in job.decks]
    size = 1
    for choice in choices:
        size *= len(choice)
    if size > MOST_MIXTURES or any(deck.count is not None and deck.count > trucks + 2 for deck in job.decks):
        return 0.0
    best = min((deck.cost for deck in job.decks), default=0.0) * (trucks + 3)  # mixtures of more decks cost at least that
    for counts in product(*choices):
        enough = sum(counts) >= trucks and sum(map(_held, job.decks, counts)) >= weight
        if enough and sum(counts) * room[0] * room[1] * room[2] >= volume:
            best = min(best, sum(many * deck.cost for many, deck in zip(counts, job.decks, strict=True)))
    return best


def _held(deck: Deck, many: int) -> int:
    return many * deck.payload_g
