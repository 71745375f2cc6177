"""Rack slots: small floors that can be followed by hand, and the curve of yield against slots."""

from __future__ import annotations

import random
from itertools import permutations

from solver.search import Search
from solver.sequencing.rack import Candidate, RackBar, curve, fewest_slots, rack_slots


def bars_of(*bars: str) -> tuple[RackBar, ...]:
    """Bars written as letters, a letter a piece."""
    return tuple(RackBar(id=f"b{n}", pieces=tuple(pieces)) for n, pieces in enumerate(bars))


def by_hand(bars: tuple[RackBar, ...], stacks: list[str]) -> int:
    """The rack followed piece by piece, the slow way: after each piece, stack whatever can be stacked."""
    left, rack, most = [list(stack) for stack in stacks], list[str](), 0
    for piece in (piece for bar in bars for piece in bar.pieces):
        rack.append(piece)
        moved = True
        while moved:
            moved = False
            for stack in left:
                if stack and stack[0] in rack:
                    rack.remove(stack.pop(0))
                    moved = True
        most = max(most, len(rack))
    return most


def test_pieces_in_stacking_order_need_no_rack() -> None:
    assert rack_slots(bars_of("AB", "CD"), ["ABCD"]) == 0


def test_pieces_in_reverse_all_wait_but_the_bottom_one() -> None:
    assert rack_slots(bars_of("D", "C", "B", "A"), ["ABCD"]) == 3


def test_a_waiting_piece_follows_as_soon_as_the_one_below_it_lies() -> None:
    assert rack_slots(bars_of("B", "A", "D", "C"), ["ABCD"]) == 1


def test_two_stacks_grow_side_by_side() -> None:
    assert rack_slots(bars_of("AP", "BQ"), ["AB", "PQ"]) == 0


def test_bars_that_hold_each_other_s_bottom_pieces_need_a_slot() -> None:
    """Each bar begins with the upper piece of one stack, whose lower piece lies on the other bar."""
    found = fewest_slots(bars_of("BP", "QA"), ["AB", "PQ"], Search())
    assert (found.slots, found.lower_bound) == (1, 1)


def test_the_order_of_bars_is_chosen_to_save_slots() -> None:
    found = fewest_slots(bars_of("GH", "EF", "CD", "AB"), ["ABCDEFGH"], Search())
    assert (found.order, found.slots, found.lower_bound) == (("b3", "b2", "b1", "b0"), 0, 0)


def test_no_bars_need_no_slots() -> None:
    found = fewest_slots((), [], Search())
    assert (found.order, found.slots, found.lower_bound) == ((), 0, 0)


def test_small_floors_agree_with_trying_every_order() -> None:
    for seed in range(40):
        rnd = random.Random(seed)
        pieces = rnd.sample("ABCDEFGHIJKLM", 13)
        cuts = sorted(rnd.sample(range(1, 13), 5))
        bars = bars_of(*("".join(pieces[a:b]) for a, b in zip([0, *cuts], [*cuts, 13], strict=True)))
        stacks = ["ABCDE", "FGHI", "JKLM"]
        found = fewest_slots(bars, stacks, Search())
        by_id = {bar.id: bar for bar in bars}
        assert found.lower_bound == found.slots == min(by_hand(order, stacks) for order in permutations(bars)), seed
        assert by_hand(tuple(by_id[bar] for bar in found.order), stacks) == found.slots


def test_a_large_floor_gets_an_order_of_its_stated_slots_and_an_honest_bound() -> None:
    rnd = random.Random(5)
    names = [f"p{n}" for n in range(120)]
    stacks = [names[at : at + 12] for at in range(0, 120, 12)]
    rnd.shuffle(names)
    bars = tuple(RackBar(id=f"b{n}", pieces=tuple(names[3 * n : 3 * n + 3])) for n in range(40))
    found = fewest_slots(bars, stacks, Search())
    by_id = {bar.id: bar for bar in bars}
    assert rack_slots((by_id[bar] for bar in found.order), stacks) == found.slots
    assert found.lower_bound <= found.slots < rack_slots(bars, stacks)


def test_the_curve_offers_the_plans_that_trade_yield_for_slots() -> None:
    tangled = Candidate(id="least waste", cost=100.0, bars=bars_of("BP", "QA"))
    tidy = Candidate(id="in order", cost=104.0, bars=bars_of("AB", "PQ"))
    worse = Candidate(id="neither", cost=110.0, bars=bars_of("BA", "PQ"))
    points = curve([worse, tidy, tangled], ["AB", "PQ"], Search())
    assert [(point.plan, point.rack.slots, point.best) for point in points] == [
        ("least waste", 1, True),
        ("in order", 0, True),
        ("neither", 1, False),
    ]
