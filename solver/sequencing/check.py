"""Is a cut order what it says? Judged bar by bar, without the search's graph."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from solver.domain.report import Report
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.errors import FaultCollector

CHECKED = (
    "every bar stands in the order exactly once",
    "the most bundles open at one time, counted bar by bar, is as stated",
    "the limit of open bundles is kept",
    "where stacks are given, the most pieces in the rack, followed piece by piece, are as stated, and find a slot",
    "the bound is not negative and not above the value",
    "optimal is said only where value and bound are equal",
)


def check(job: SequenceJob, result: SequenceResult) -> Report:
    """Return what was checked of a cut order and every fault found."""
    faults = FaultCollector()
    if result.status == "unknown":
        if result.order or result.open is not None or result.rack is not None:
            faults.add("status", "is unknown, but an order is given", "feasible or optimal")
        return Report(checked=CHECKED[3:], faults=tuple(faults.found))
    whole = _judge_order(job, result, faults)
    if whole:
        most = most_open_bundles([frozenset(bar.bundles) for bar in _in_order(job, result.order)])
        if result.open != most:
            faults.add("open", f"{result.open} is stated, {most} are open at one time", f"{most}")
        if job.open_max is not None and most > job.open_max:
            faults.add("order", f"{most} bundles are open at one time", f"at most {job.open_max}")
        _judge_rack(job, result, faults)
    _judge_bound(job, result, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def most_open_bundles(bars: Sequence[frozenset[str]]) -> int:
    """Return the most bundles open at one time when bars are cut in this order; first and last bar included."""
    left = Counter(bundle for bar in bars for bundle in bar)
    standing, most = set[str](), 0
    for bar in bars:
        standing |= bar
        most = max(most, len(standing))
        left.subtract(bar)
        standing = {bundle for bundle in standing if left[bundle]}
    return most


def most_waiting_pieces(pieces: Sequence[str], stacks: Sequence[Sequence[str]]) -> int:
    """Return the most pieces that wait at one time, followed one by one: each is put in the rack, then all that can lie."""
    rest, rack, most = [list(reversed(stack)) for stack in stacks], set[str](), 0
    home = {piece: n for n, stack in enumerate(stacks) for piece in stack}
    for piece in pieces:
        if piece not in home:
            continue
        rack.add(piece)
        stack = rest[home[piece]]
        while stack and stack[-1] in rack:
            rack.remove(stack.pop())
        most = max(most, len(rack))
    return most


def _judge_rack(job: SequenceJob, result: SequenceResult, faults: FaultCollector) -> None:
    if job.stacks is None:
        if result.rack is not None or result.rack_lower_bound is not None:
            faults.add("rack", "is stated, but no stacks are given", "nothing")
        return
    most = most_waiting_pieces([piece for bar in _in_order(job, result.order) for piece in bar.pieces], job.stacks)
    if result.rack != most:
        faults.add("rack", f"{result.rack} is stated, {most} pieces wait at one time", f"{most}")
    if job.rack_slots is not None and most > job.rack_slots:
        faults.add("order", f"{most} pieces wait at one time", f"at most {job.rack_slots}")
    floor = result.rack_lower_bound
    if floor is None or not 0 <= floor <= most:
        faults.add("rack_lower_bound", f"{floor} is not between 0 and {most}", f"0 to {most}")


def _in_order(job: SequenceJob, order: Sequence[str]) -> list[BarBundles]:
    by_id = {bar.id: bar for bar in job.bars}
    return [by_id[bar] for bar in order]


def _judge_order(job: SequenceJob, result: SequenceResult, faults: FaultCollector) -> bool:
    wanted, given = Counter(bar.id for bar in job.bars), Counter(result.order)
    for bar in wanted - given:
        faults.add("order", f"bar {bar!r} is missing", "every bar once")
    for bar, times in (given - wanted).items():
        if bar in wanted:
            faults.add("order", f"bar {bar!r} stands {times} times too often", "every bar once")
        else:
            faults.add("order", f"bar {bar!r} is not in the job", "bars of the job")
    return wanted == given


def _judge_bound(job: SequenceJob, result: SequenceResult, faults: FaultCollector) -> None:
    value = result.open
    if value is None:
        faults.add("open", "is missing", "the most bundles open at one time")
        return
    if result.lower_bound > value:
        faults.add("lower_bound", f"{result.lower_bound} is above the value {value}", f"at most {value}")
    if result.lower_bound < 0:
        faults.add("lower_bound", f"{result.lower_bound} is below 0", "at least 0")
    reached, bound = (value, result.lower_bound) if job.stacks is None else (result.rack, result.rack_lower_bound)
    if (result.status == "optimal") != (bound == reached):
        faults.add("status", f"{result.status} is stated with value {reached} and bound {bound}", "optimal when equal")
