"""Rack slots: small floors that can be followed by hand, against every order, with and without a limit of open bundles."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import permutations

import pytest

from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.errors import InputError, NoPlan
from solver.search import Search
from solver.sequencing.check import check, most_open_bundles, most_waiting_pieces
from solver.sequencing.rack import order_for_fewest_slots, rack_slots_needed
from solver.sequencing.sequence import sequence, validate


def bars_of(*bars: str, stacks: Sequence[str] = ()) -> tuple[BarBundles, ...]:
    """Bars written as letters, a letter a piece; a stack is a bundle."""
    home = {piece: f"S{n}" for n, stack in enumerate(stacks) for piece in stack}
    return tuple(
        BarBundles(id=f"b{n}", pieces=tuple(bar), bundles=tuple(sorted({home[p] for p in bar if p in home})))
        for n, bar in enumerate(bars)
    )


def job_of(*bars: str, stacks: Sequence[str], rack_slots: int | None = None, open_max: int | None = None) -> SequenceJob:
    return SequenceJob(
        bars=bars_of(*bars, stacks=stacks), stacks=tuple(map(tuple, stacks)), rack_slots=rack_slots, open_max=open_max
    )


def solved(job: SequenceJob) -> SequenceResult:
    result = sequence(job, Search())
    assert check(job, result).sound, check(job, result).faults
    return result


def by_hand(bars: Sequence[BarBundles], stacks: Sequence[str]) -> int:
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
    assert rack_slots_needed(bars_of("AB", "CD"), ["ABCD"]) == 0


def test_pieces_in_reverse_all_wait_but_the_bottom_one() -> None:
    assert rack_slots_needed(bars_of("D", "C", "B", "A"), ["ABCD"]) == 3


def test_a_waiting_piece_follows_as_soon_as_the_one_below_it_lies() -> None:
    assert rack_slots_needed(bars_of("B", "A", "D", "C"), ["ABCD"]) == 1


def test_two_stacks_grow_side_by_side() -> None:
    assert rack_slots_needed(bars_of("AP", "BQ"), ["AB", "PQ"]) == 0


def test_a_piece_of_no_stack_never_waits() -> None:
    assert rack_slots_needed(bars_of("XA", "YB"), ["AB"]) == 0


def test_bars_that_hold_each_other_s_bottom_pieces_need_a_slot() -> None:
    """Each bar begins with the upper piece of one stack, whose lower piece lies on the other bar."""
    found = solved(job_of("BP", "QA", stacks=["AB", "PQ"]))
    assert (found.rack, found.rack_lower_bound, found.status) == (1, 1, "optimal")


def test_the_order_of_bars_is_chosen_to_save_slots() -> None:
    found = solved(job_of("GH", "EF", "CD", "AB", stacks=["ABCDEFGH"]))
    assert (found.order, found.rack, found.rack_lower_bound) == (("b3", "b2", "b1", "b0"), 0, 0)


def test_no_bars_need_no_slots() -> None:
    found = solved(SequenceJob(bars=(), stacks=()))
    assert (found.order, found.rack, found.rack_lower_bound, found.status) == ((), 0, 0, "optimal")


def test_fewer_open_bundles_cost_slots() -> None:
    """With two bundles open the stacks grow side by side; with one open at a time there is no order at all."""
    bars, stacks = ("AP", "BQ"), ["AB", "PQ"]
    assert solved(job_of(*bars, stacks=stacks)).open == 2
    with pytest.raises(NoPlan, match=r"opens? 2 bundles|pieces of 2 bundles"):
        sequence(job_of(*bars, stacks=stacks, open_max=1), Search())


def test_too_few_slots_are_impossible_and_say_how_many_it_takes() -> None:
    assert solved(job_of("BP", "QA", stacks=["AB", "PQ"], rack_slots=1)).rack == 1
    with pytest.raises(NoPlan, match="rack_slots: 0 is impossible: in every order 1 pieces wait"):
        sequence(job_of("BP", "QA", stacks=["AB", "PQ"], rack_slots=0), Search())


def small_floor(seed: int) -> tuple[list[str], list[str]]:
    rnd = random.Random(seed)
    pieces = rnd.sample("ABCDEFGHIJKLM", 13)
    cuts = sorted(rnd.sample(range(1, 13), 5))
    return ["".join(pieces[a:b]) for a, b in zip([0, *cuts], [*cuts, 13], strict=True)], ["ABCDE", "FGHI", "JKLM"]


@pytest.mark.parametrize("open_max", [None, 3, 2])
def test_small_floors_agree_with_trying_every_order(open_max: int | None) -> None:
    """With a limit of open bundles: the least over the orders that keep it, or impossible."""
    impossible = 0
    for seed in range(40):
        bars, stacks = small_floor(seed)
        job = job_of(*bars, stacks=stacks, open_max=open_max)
        limit = 3 if open_max is None else open_max
        allowed = [
            order for order in permutations(job.bars) if most_open_bundles([frozenset(bar.bundles) for bar in order]) <= limit
        ]
        if not allowed:
            impossible += 1
            with pytest.raises(NoPlan):
                sequence(job, Search())
            continue
        best = min(by_hand(order, stacks) for order in allowed)
        found = solved(job)
        assert (found.rack, found.rack_lower_bound, found.status) == (best, best, "optimal"), seed
        by_id = {bar.id: bar for bar in job.bars}
        assert by_hand([by_id[bar] for bar in found.order], stacks) == best
    assert (impossible > 0) == (open_max == 2)


def test_within_as_few_open_bundles_as_can_be_the_fewest_slots_are_found() -> None:
    """Five stacks, six bars of two or three pieces: where few bundles may be open, more pieces wait."""
    stacks, dearer = ["AB", "CDE", "FG", "HIJ", "KLM"], 0
    for seed in range(60):
        rnd = random.Random(seed)
        pieces = rnd.sample("ABCDEFGHIJKLM", 13)
        bars = ["".join(pieces[n : n + 2]) for n in range(0, 10, 2)] + ["".join(pieces[10:])]
        rows = bars_of(*bars, stacks=stacks)
        each = [
            (most_open_bundles([frozenset(bar.bundles) for bar in order]), by_hand(order, stacks))
            for order in permutations(rows)
        ]
        fewest = min(most for most, _ in each)
        best = min(slots for most, slots in each if most == fewest)
        found = solved(job_of(*bars, stacks=stacks, open_max=fewest))
        assert (found.open, found.rack, found.rack_lower_bound) == (fewest, best, best), seed
        dearer += best > min(slots for _, slots in each)
    assert dearer > 3


def test_two_ways_to_follow_the_rack_agree() -> None:
    for seed in range(60):
        bars, stacks = small_floor(seed)
        rows = bars_of(*bars, stacks=stacks)
        pieces = [piece for bar in rows for piece in bar.pieces]
        assert rack_slots_needed(rows, stacks) == most_waiting_pieces(pieces, stacks) == by_hand(rows, stacks)


def test_a_large_floor_gets_an_order_of_its_stated_slots_and_an_honest_bound() -> None:
    rnd = random.Random(5)
    names = [f"p{n}" for n in range(120)]
    stacks = [names[at : at + 12] for at in range(0, 120, 12)]
    rnd.shuffle(names)
    rows = tuple(BarBundles(id=f"b{n}", bundles=(), pieces=tuple(names[3 * n : 3 * n + 3])) for n in range(40))
    found = order_for_fewest_slots(rows, stacks, None, Search())
    assert rack_slots_needed([rows[bar] for bar in found.order], stacks) == found.slots
    assert found.lower_bound <= found.slots < rack_slots_needed(rows, stacks)
    hurried = order_for_fewest_slots(rows, stacks, None, Search(left_s=lambda: 0.0))
    assert sorted(hurried.order) == list(range(40))
    assert hurried.lower_bound <= found.slots


def test_every_fault_of_stacks_is_told_at_once() -> None:
    bars = (BarBundles(id="a", bundles=(), pieces=("A", "B")), BarBundles(id="b", bundles=(), pieces=("B",)))
    job = SequenceJob(bars=bars, stacks=(("A", "C"), ("A",)), rack_slots=2)
    assert [fault.path for fault in validate(job)] == ["bars[1].pieces[0]", "stacks[0][1]", "stacks[1][0]"]
    assert [fault.path for fault in validate(SequenceJob(bars=(), rack_slots=2))] == ["rack_slots"]
    with pytest.raises(InputError):
        sequence(job, Search())


SPOILED = {
    "too few slots stated": ({"rack": 0, "status": "feasible"}, "is stated, 1 pieces wait"),
    "no slots stated": ({"rack": None, "status": "feasible"}, "None is stated"),
    "the bound is above the slots": ({"rack_lower_bound": 2, "status": "feasible"}, "is not between 0 and 1"),
    "optimal without proof": ({"rack_lower_bound": 0}, "optimal is stated"),
    "feasible where it is proved": ({"status": "feasible"}, "feasible is stated"),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_rack_is_caught(name: str) -> None:
    changes, words = SPOILED[name]
    job = job_of("BP", "QA", stacks=["AB", "PQ"])
    report = check(job, replace(solved(job), **changes))  # type: ignore[arg-type]
    assert words in "\n".join(map(str, report.faults))


def test_an_order_beyond_the_rack_is_caught_and_so_is_a_rack_without_stacks() -> None:
    loose, tight = job_of("BP", "QA", stacks=["AB", "PQ"]), job_of("BP", "QA", stacks=["AB", "PQ"], rack_slots=0)
    assert "1 pieces wait at one time; at most 0" in "\n".join(map(str, check(tight, solved(loose)).faults))
    plain = SequenceJob(bars=loose.bars)
    assert "no stacks are given" in "\n".join(map(str, check(plain, solved(loose)).faults))
