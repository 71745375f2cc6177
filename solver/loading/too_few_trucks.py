"""Whether so many trucks are too few, proved by a constraint program over towers of bundles in lanes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING

from solver.domain.load import LoadBundle, LoadRules
from solver.loading.placed import may_carry_g, timber_middles
from solver.search import Search

if TYPE_CHECKING:
    from ortools.sat.python.cp_model import CpModel, IntVar

STEP_NM = 254_000  # a hundredth of an inch: sizes are rounded down and rooms up, which only lets more be loaded
STEP_G = 100
BUNDLES = 30  # of more the program is not tried: it seldom ends
EFFORT = 4.0  # its own measure of work, about seconds; the same on every machine
Room = tuple[int, int, int]


def proves_too_few_trucks(
    bundles: Sequence[LoadBundle], trucks: int, rooms: Sequence[Room], payload_g: int, rules: LoadRules, search: Search
) -> bool:
    """Return whether it is proved that no way to load fits `trucks` trucks, each with the most that any deck has of everything.

    Every bundle stands on the deck or wholly on one that is wanted later (bundles in order of need). Seen from above, towers
    never overlap: what hangs over a bundle stands on it. So at any place along the deck at most so many towers lie side by
    side as narrow bundles would, and towers share that many lanes without overlap (interval graphs are perfect). Order
    between lanes, axles and balance are left out: a relaxation. False where it is not proved, or too large to try.
    """
    if len(bundles) > BUNDLES or trucks * len(bundles) > 2 * BUNDLES or search.over():
        return False
    length, width, height = (max(room[way] for room in rooms) for way in range(3))
    lanes = sum(taken <= width for taken in accumulate(sorted(bundle.width_nm for bundle in bundles)))
    return lanes > 0 and _Program(bundles, rules, (length, height, payload_g), trucks, lanes).refuted(search)


@dataclass(frozen=True, slots=True)
class _Pair:
    """A bundle on another: whether it is, and then the length of deck its tower takes and the weight of it."""

    stands: IntVar
    length: IntVar
    weight: IntVar


class _Program:
    """Bundles to lanes and onto one another: towers as long as what stands in them, as high and as heavy as may be."""

    def __init__(
        self, bundles: Sequence[LoadBundle], rules: LoadRules, most: tuple[int, int, int], trucks: int, lanes: int
    ) -> None:
        from ortools.sat.python.cp_model import CpModel

        self.model: CpModel = CpModel()
        self.bundles, self.rules, self.trucks, self.lanes = bundles, rules, trucks, lanes
        self.length, self.height, self.payload = -(-most[0] // STEP_NM), -(-most[1] // STEP_NM), most[2] // STEP_G + 1
        self.long = [bundle.length_nm // STEP_NM for bundle in bundles]
        self.high = [bundle.height_nm // STEP_NM for bundle in bundles]
        self.heavy = [bundle.weight_g // STEP_G for bundle in bundles]
        self.carries = [may_carry_g(bundle, rules) // STEP_G + 1 for bundle in bundles]
        self.timbers = [timber_middles(bundle, rules) for bundle in bundles]
        self._places()
        self._towers()
        self._decks()

    def refuted(self, search: Search) -> bool:
        """Return whether the program has no solution; False too where its effort or the time ended first."""
        from ortools.sat.python.cp_model import INFEASIBLE, CpSolver

        solver = CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = search.seed % 2**31
        solver.parameters.max_deterministic_time = EFFORT
        solver.parameters.max_time_in_seconds = max(0.0, search.left_s())
        return bool(solver.Solve(self.model) == INFEASIBLE)

    def _places(self) -> None:
        """A lane and a footing for each bundle; what stands on another shares its lane."""
        model, size = self.model, len(self.bundles)
        columns = range(self.trucks * self.lanes)
        self.lane = [[model.new_bool_var("") for _ in columns] for _ in range(size)]
        self.on_deck = [model.new_bool_var("") for _ in range(size)]
        self.takes = [model.new_int_var(self.long[i], self.length, "") for i in range(size)]
        self.bears = [model.new_int_var(0, self.carries[i], "") for i in range(size)]
        self.at = [model.new_int_var(0, max(0, self.height - self.high[i]), "") for i in range(size)]
        self.pairs: list[dict[int, _Pair]] = [{} for _ in range(size)]  # by the lower bundle, then the upper
        for upper in range(size):
            model.add_exactly_one(self.lane[upper])
            footings = [self.on_deck[upper]]
            for lower in range(upper + 1, size):
                if self._may_stand(upper, lower):
                    footings.append(self._pair(upper, lower).stands)
            model.add_exactly_one(footings)

    def _may_stand(self, upper: int, lower: int) -> bool:
        top, base = self.bundles[upper], self.bundles[lower]
        return (
            self.heavy[upper] <= self.carries[lower]
            and self.timbers[upper][-1] - self.timbers[upper][0] <= base.length_nm
            and top.width_nm <= base.width_nm + 2 * self.rules.side_overhang_nm
            and self.high[upper] + self.high[lower] <= self.height
        )

    def _pair(self, upper: int, lower: int) -> _Pair:
        model = self.model
        pair = _Pair(
            model.new_bool_var(""), model.new_int_var(0, self.length, ""), model.new_int_var(0, self.carries[lower], "")
        )
        for mine, other in zip(self.lane[upper], self.lane[lower], strict=True):
            model.add_bool_or([pair.stands.negated(), mine.negated(), other])
        model.add(self.at[upper] >= self.at[lower] + self.high[lower]).only_enforce_if(pair.stands)
        model.add(pair.length >= self.takes[upper]).only_enforce_if(pair.stands)
        model.add(pair.weight >= self.bears[upper] + self.heavy[upper]).only_enforce_if(pair.stands)
        self.pairs[lower][upper] = pair
        return pair

    def _towers(self) -> None:
        """What stands right on a bundle lies end to end on it, but for the ends past its outer timbers, and weighs on it."""
        for lower, uppers in enumerate(self.pairs):
            if not uppers:
                continue
            base = self.bundles[lower]
            width = base.width_nm + 2 * self.rules.side_overhang_nm
            abreast = sum(taken <= width for taken in accumulate(sorted(self.bundles[i].width_nm for i in uppers)))
            past = max(self.timbers[i][0] for i in uppers)
            past += max(self.bundles[i].length_nm - self.timbers[i][-1] for i in uppers)
            room = abreast * (-(-(base.length_nm + past) // STEP_NM))
            self.model.add(sum(self.long[i] * pair.stands for i, pair in uppers.items()) <= room)
            self.model.add(abreast * self.takes[lower] >= sum(pair.length for pair in uppers.values()))
            self.model.add(self.bears[lower] >= sum(pair.weight for pair in uppers.values()))

    def _decks(self) -> None:
        """Towers of a lane lie end to end on the deck; a truck's bundles are within its payload; trucks are alike."""
        model, size = self.model, len(self.bundles)
        faces = [self.long[i] * self.high[i] for i in range(size)]
        for column in range(self.trucks * self.lanes):
            shares = []
            for i in range(size):
                share = model.new_int_var(0, self.length, "")
                model.add(share >= self.takes[i]).only_enforce_if(self.on_deck[i], self.lane[i][column])
                shares.append(share)
            model.add(sum(shares) <= self.length)
            model.add(sum(face * self.lane[i][column] for i, face in enumerate(faces)) <= self.length * self.height)
        for truck in range(self.trucks):
            own = range(truck * self.lanes, (truck + 1) * self.lanes)
            model.add(sum(self.heavy[i] * self.lane[i][column] for i in range(size) for column in own) <= self.payload)
        for turn, i in enumerate(sorted(range(size), key=lambda i: -faces[i])):  # the turn-th is on no later truck
            for column in range((turn + 1) * self.lanes, self.trucks * self.lanes):
                model.add(self.lane[i][column] == 0)
