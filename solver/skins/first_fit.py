"""A plan at once: the largest group first, into the batch where it costs least, each face on the coil that it fits best."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from fractions import Fraction

from solver.skins.problem import Fill, SkinProblem, Spot, length_used_up

Rooms = dict[tuple[int, int], int]  # what is left of each clear run


class PartialFill:
    """A fill that grows, with what is left of each clear run and how far each coil is cut."""

    def __init__(self, problem: SkinProblem) -> None:
        self.problem = problem
        self.fill: dict[Spot, int] = {}
        self.rooms: Rooms = {
            (n, run): end - begin for n, coil in enumerate(problem.coils) for run, (begin, end) in enumerate(coil.runs)
        }
        self.ends: dict[int, int] = {}

    def copy(self) -> PartialFill:
        """Return a copy that grows by itself."""
        twin = PartialFill.__new__(PartialFill)
        twin.problem, twin.fill, twin.rooms, twin.ends = self.problem, dict(self.fill), dict(self.rooms), dict(self.ends)
        return twin

    def cost(self) -> Fraction:
        """Return the steel used up, without splits."""
        coils = self.problem.coils
        return sum((coils[coil].cost * length_used_up(self.problem, coil, end) for coil, end in self.ends.items()), Fraction(0))

    def places(self, face: int, wanted: Mapping[int, int], coil: int) -> dict[Spot, int]:
        """Return how many of each kind of a face lie in which clear run of a coil, the longest first, as near as it fits."""
        kinds, placed = self.problem.faces[face].kinds, dict[Spot, int]()
        rooms = [self.rooms[coil, run] for run in range(len(self.problem.coils[coil].runs))]
        for kind, count in wanted.items():
            length, left = kinds[kind][0], count
            for run, room in enumerate(rooms):
                fits = min(left, room // length)
                if fits:
                    placed[face, kind, coil, run] = fits
                    rooms[run] -= fits * length
                    left -= fits
        return placed

    def put(self, placed: Mapping[Spot, int]) -> None:
        """Add pieces where `places` said."""
        for spot, count in placed.items():
            face, kind, coil, run = spot
            self.fill[spot] = self.fill.get(spot, 0) + count
            self.rooms[coil, run] -= count * self.problem.faces[face].kinds[kind][0]
            end = self.problem.coils[coil].runs[run][1] - self.rooms[coil, run]
            self.ends[coil] = max(self.ends.get(coil, 0), end)

    def grown(self, placed: Mapping[Spot, int], coil: int) -> Fraction:
        """Return what more of a coil would be used up."""
        end = self.ends.get(coil, 0)
        before = length_used_up(self.problem, coil, end) if coil in self.ends else Fraction(0)
        loads: Counter[int] = Counter()
        for (face, kind, _, run), count in placed.items():
            loads[run] += count * self.problem.faces[face].kinds[kind][0]
        for run, load in loads.items():
            end = max(end, self.problem.coils[coil].runs[run][1] - self.rooms[coil, run] + load)
        return self.problem.coils[coil].cost * (length_used_up(self.problem, coil, end) - before)


def first_fit(problem: SkinProblem, batch_of: Mapping[int, int] | None = None) -> Fill | None:
    """Return a fill made group by group (into the batches told, where they are); None where a group found no room."""
    filling = PartialFill(problem)
    for group in sorted(range(len(problem.groups)), key=lambda group: -problem.need(group)):
        batches: Iterable[int] = range(len(problem.batches)) if batch_of is None else (batch_of[group],)
        tried = [trial for batch in batches if (trial := fill_with_group(filling, group, problem.batches[batch])) is not None]
        if not tried:
            return None
        filling = min(tried, key=lambda trial: trial[0])[1]
    return filling.fill


def fill_with_group(filling: PartialFill, group: int, coils: Sequence[int]) -> tuple[Fraction, PartialFill] | None:
    """Return what a group costs on the coils of a batch, and the filling with it; None where they have no room for it."""
    problem, grown = filling.problem, filling.copy()
    before, more = filling.cost(), Fraction(0)
    for face in sorted(problem.groups[group], key=lambda face: -problem.faces[face].run):
        served = _serve(grown, face, coils)
        if served is None:
            return None
        more += problem.split * (served - 1)
    return grown.cost() - before + more, grown


def _serve(filling: PartialFill, face: int, coils: Sequence[int]) -> int | None:
    """Place a face on one coil where any takes it whole, else on several, most of it first; return how many, or None."""
    wanted = {kind: count for kind, (_, count) in enumerate(filling.problem.faces[face].kinds)}
    served = 0
    while wanted:
        offers = []
        for coil in coils:
            placed = filling.places(face, wanted, coil)
            if placed:
                run = sum(count * filling.problem.faces[face].kinds[spot[1]][0] for spot, count in placed.items())
                whole = sum(placed.values()) == sum(wanted.values())
                offers.append((not whole, filling.grown(placed, coil) if whole else -run, coil, placed))
        if not offers:
            return None
        *_, placed = min(offers, key=lambda offer: offer[:3])
        filling.put(placed)
        served += 1
        for (_, kind, _, _), count in placed.items():
            wanted[kind] -= count
        wanted = {kind: count for kind, count in wanted.items() if count}
    return served
