"""Judge the bound of open bundles: bundles of one bar are open together, and minors of who meets whom."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.certificate import Argument, BoundReport, State
from solver.domain.sequence import SequenceJob, SequenceResult


def verify_bounds(job: SequenceJob, result: SequenceResult) -> tuple[BoundReport, ...]:
    """Return how far the bounds of open bundles and of the rack are carried by arguments that anybody can follow."""
    made = [_open(job, result)]
    if result.rack_lower_bound is not None:
        made.append(_rack(result.rack_lower_bound))
    return tuple(made)


def _open(job: SequenceJob, result: SequenceResult) -> BoundReport:
    proof, claimed = result.certificate, result.lower_bound
    proved, said = max((len(bar.bundles) for bar in job.bars), default=0), "the bundles of one bar are open together"
    if proof is not None and proof.steps and proved < claimed:
        minor = minor_bound(job, proof.steps)
        if minor > proved:
            proved, said = minor, f"a minor of {len(proof.steps) - 1} steps in which each bundle meets {minor - 1} others"
    state: State = "confirmed" if claimed <= proved else "unconfirmed"
    if state == "unconfirmed" and proof is not None:
        state = "unconfirmed" if proof.kind == "search" else "refuted"
        said += "; beyond that a search over all orders" if proof.kind == "search" else ""
    kind: Argument | None = None if proof is None else proof.kind
    if state == "confirmed":
        kind = "open" if said.startswith("a minor") else "clique"
    return BoundReport(about="lower_bound", state=state, claimed=float(claimed), proved=float(proved), kind=kind, by=said)


def _rack(claimed: int) -> BoundReport:
    if claimed == 0:
        return BoundReport(about="rack_lower_bound", state="confirmed", claimed=0.0, proved=0.0, kind="nothing")
    said = "a search over all orders within the open bundles allowed"
    return BoundReport(
        about="rack_lower_bound", state="unconfirmed", claimed=float(claimed), proved=None, kind="search", by=said
    )


def minor_bound(job: SequenceJob, steps: Sequence[tuple[str, str]]) -> int:
    """Return a number of bundles that every order has open together: by the steps, each of which makes two that meet one.

    An order of bars is a path decomposition of who meets whom on a bar, its bags the open bundles; its width is at least
    the treewidth, and that is at least the least number of others that any bundle of any minor meets (Bodlaender and
    Koster 2011, Information and Computation 209(7): 1103-1119). Steps that join what does not meet prove nothing.
    """
    meets: dict[str, set[str]] = {}
    for bar in job.bars:
        for bundle in bar.bundles:
            meets.setdefault(bundle, set()).update(other for other in bar.bundles if other != bundle)
    first = steps[0][0]
    part, waiting = {first}, [first]
    while waiting:
        for other in meets.get(waiting.pop(), set()) - part:
            part.add(other)
            waiting.append(other)
    around = {bundle: set(meets[bundle]) for bundle in part if bundle in meets}
    best = min((len(others) for others in around.values()), default=-1) + 1
    for one, into in steps[1:]:
        if into not in around.get(one, set()):
            break
        for other in around.pop(one):
            around[other].discard(one)
            if other != into:
                around[other].add(into)
                around[into].add(other)
        best = max(best, min(len(others) for others in around.values()) + 1)
    return best
