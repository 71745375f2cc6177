"""Named baselines for one stock length: arc flow on CBC and on HiGHS, an assignment model on CP-SAT.

Arc flow after Valerio de Carvalho (1999), Annals of Operations Research 86: 629-659: a path from 0 to the bar's length is a
bar; pieces are arcs, taken longest first.
"""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Callable, Sequence

Baseline = Callable[[int, Sequence[Sequence[int]], float], tuple[int | None, bool]]
Items = Sequence[Sequence[int]]


def arcs_of(capacity: int, items: Items) -> list[tuple[int, int, int]]:
    """Return (from, to, item or -1 for waste) of the arc-flow graph."""
    reach = [False] * (capacity + 1)
    reach[0] = True
    found: set[tuple[int, int, int]] = set()
    for n, (size, count) in sorted(enumerate(items), key=lambda item: -item[1][0]):
        times = [0 if reached else -1 for reached in reach]  # copies of this item on the way to each node
        for at in range(capacity - size + 1):
            if times[at] < 0 or times[at] >= count:
                continue
            to = at + size
            found.add((at, to, n))
            if times[to] < 0 or times[at] + 1 < times[to]:
                times[to] = times[at] + 1
            reach[to] = True
    nodes = sorted(node for node in range(capacity + 1) if reach[node] or node == capacity)
    waste = [(a, b, -1) for a, b in itertools.pairwise(nodes)]
    return [*sorted(found), *waste]


def arc_flow_cbc(capacity: int, items: Items, limit_s: float) -> tuple[int | None, bool]:
    """Return bars and whether proved, by CBC through PuLP."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # PuLP 3 warns of PuLP 4's ways; 4 ships no CBC
        return _arc_flow_cbc(capacity, items, limit_s)


def _arc_flow_cbc(capacity: int, items: Items, limit_s: float) -> tuple[int | None, bool]:
    import pulp

    arcs = arcs_of(capacity, items)
    model = pulp.LpProblem("bars", pulp.LpMinimize)
    flow = [pulp.LpVariable(f"f{n}", lowBound=0, cat="Integer") for n in range(len(arcs))]
    bars = pulp.LpVariable("bars", lowBound=0, cat="Integer")
    model += bars
    into: dict[int, list[object]] = {}
    out: dict[int, list[object]] = {}
    for variable, (a, b, _) in zip(flow, arcs, strict=True):
        out.setdefault(a, []).append(variable)
        into.setdefault(b, []).append(variable)
    for node in {*into, *out}:
        given = pulp.lpSum(into.get(node, [])) + (bars if node == 0 else 0)
        model += given == pulp.lpSum(out.get(node, [])) + (bars if node == capacity else 0)
    for n, (_, count) in enumerate(items):
        model += pulp.lpSum(v for v, arc in zip(flow, arcs, strict=True) if arc[2] == n) >= count
    model.solve(pulp.PULP_CBC_CMD(msg=False, timeLimit=limit_s, threads=1))
    proved = model.sol_status == pulp.LpSolutionOptimal
    value = None if bars.value() is None else round(bars.value())
    return value, proved


def arc_flow_highs(capacity: int, items: Items, limit_s: float) -> tuple[int | None, bool]:
    """Return bars and whether proved, by HiGHS."""
    import highspy
    import numpy as np

    from solver.highs import highs_infinity, new_silent_solver, require_ok_status

    arcs = arcs_of(capacity, items)
    solver, inf = new_silent_solver(), highs_infinity()
    nodes = sorted({node for a, b, _ in arcs for node in (a, b)})
    row = {node: n for n, node in enumerate(nodes)}
    none = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
    for _ in nodes:
        require_ok_status(solver.addRow(0.0, 0.0, 0, *none))
    for _, count in items:
        require_ok_status(solver.addRow(float(count), inf, 0, *none))
    for a, b, item in arcs:
        places = [row[a], row[b]] + ([len(nodes) + item] if item >= 0 else [])
        values = [-1.0, 1.0] + ([1.0] if item >= 0 else [])
        require_ok_status(solver.addCol(0.0, 0.0, inf, len(places), np.array(places, dtype=np.int32), np.array(values)))
    ends = np.array([row[0], row[capacity]], dtype=np.int32)
    require_ok_status(solver.addCol(1.0, 0.0, inf, 2, ends, np.array([1.0, -1.0])))
    for n in range(len(arcs) + 1):
        require_ok_status(solver.changeColIntegrality(n, highspy.HighsVarType.kInteger))
    require_ok_status(solver.setOptionValue("time_limit", limit_s))
    require_ok_status(solver.setOptionValue("mip_rel_gap", 0.0))
    solver.run()
    values = solver.getSolution().col_value
    return (round(values[-1]) if len(values) else None), solver.getModelStatus().name == "kOptimal"


def assignment_cp_sat(capacity: int, items: Items, limit_s: float) -> tuple[int | None, bool]:
    """Return bars and whether proved: how many of each item on each bar, by CP-SAT."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    order = sorted((size for size, count in items for _ in range(count)), reverse=True)
    free: list[int] = []
    for size in order:  # first fit: as many bars as can be needed
        for n, room in enumerate(free):
            if room >= size:
                free[n] -= size
                break
        else:
            free.append(capacity - size)
    used = [model.new_bool_var(f"u{b}") for b in range(len(free))]
    on = [
        [model.new_int_var(0, min(count, capacity // size), f"x{n}_{b}") for b in range(len(free))]
        for n, (size, count) in enumerate(items)
    ]
    for n, (_, count) in enumerate(items):
        model.add(sum(on[n]) == count)
    for b, bar in enumerate(used):
        model.add(sum(size * on[n][b] for n, (size, _) in enumerate(items)) <= capacity * bar)
    for first, second in itertools.pairwise(used):
        model.add_implication(second, first)
    model.minimize(sum(used))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = limit_s
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return (round(solver.objective_value) if found else None), status == cp_model.OPTIMAL


BASELINES: dict[str, Baseline] = {
    "arc flow, CBC": arc_flow_cbc,
    "arc flow, HiGHS": arc_flow_highs,
    "assignment, CP-SAT": assignment_cp_sat,
}
