"""A plan as tables: pieces, bars, bundles, loads, departures, yield and rack slots, written as CSV and as one workbook."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd

from service.reports.cells import harmless
from solver.documents.ways import way_note
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Departure
from solver.domain.plan import Plan
from solver.units import Unit, number_in, pounds, show_length

Row = dict[str, Any]


def tables(plan: Plan) -> dict[str, pd.DataFrame]:
    """Return the plan's tables by name; lengths both as people read them and as numbers in the plan's unit."""
    makers: dict[str, Callable[[Plan], Iterator[Row]]] = {
        "pieces": _pieces,
        "bars": _bars,
        "bundles": _bundles,
        "loads": _loads,
        "departures": _departures,
        "yield": _yield,
        "rack": _rack,
    }
    return {name: pd.DataFrame(list(make(plan))) for name, make in makers.items()}


def write_tables(plan: Plan, out: Path) -> dict[str, Path]:
    """Write each table as CSV and all as one workbook into `out`; return the paths by name."""
    made = tables(plan)
    paths = {name: out / f"{name}.csv" for name in made}
    for name, frame in made.items():
        frame.map(harmless).to_csv(paths[name], index=False)
    paths["workbook"] = out / "tables.xlsx"
    with pd.ExcelWriter(paths["workbook"], engine="openpyxl") as book:
        for name, frame in made.items():
            frame.map(harmless).to_excel(book, sheet_name=name, index=False, freeze_panes=(1, 0))
    return paths


def _length(name: str, length_nm: int, unit: Unit) -> Row:
    return {name: show_length(length_nm, unit), f"{name} {unit}": number_in(length_nm, unit)}


def _weight(weight_g: int, unit: Unit) -> Row:
    return {"weight lb": round(pounds(weight_g), 1)} if unit == "in" else {"weight kg": round(weight_g / 1000, 1)}


def _pieces(plan: Plan) -> Iterator[Row]:
    bundle_of = {lay.piece: bundle.id for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces}
    marks = {piece.id: piece.mark for takeoff in plan.takeoffs for piece in takeoff.pieces}
    laid = {item.piece: (bar, item) for cut in plan.cuts for bar in cut.bars for item in bar.pieces}
    for takeoff in plan.takeoffs:
        for piece in takeoff.pieces:
            yield {
                "order": piece.order,
                "mark": piece.mark,
                "stands": piece.stands,
                "what": piece.role.replace("_", " "),
                "material": piece.material,
                **_length("length", piece.length_nm, plan.unit),
                **_length("left side", piece.edge_a[1] - piece.edge_a[0], plan.unit),
                **_length("right side", piece.edge_b[1] - piece.edge_b[0], plan.unit),
                **_length("width", piece.width_nm, plan.unit),
                **_weight(piece.weight_g, plan.unit),
                "bar": laid[piece.id][0].id if piece.id in laid else "",
                "out of": way_note(*laid[piece.id], marks) if piece.id in laid else "",
                "bundle": bundle_of.get(piece.id, ""),
                "check before standing": "yes" if piece.closing else "",
            }


def _bars(plan: Plan) -> Iterator[Row]:
    for cut in plan.cuts:
        for number, bar in enumerate(cut.bars, start=1):
            yield {
                "material": cut.material,
                "cut order": number,
                "bar": bar.id,
                "stock": bar.stock,
                **_length("length", bar.length_nm, plan.unit),
                "pieces": len(bar.pieces),
                "marks": ", ".join(str(item.piece) for item in bar.pieces),
                **_length("drop", bar.drop_nm, plan.unit),
            }


def _bundles(plan: Plan) -> Iterator[Row]:
    for part in plan.stacks:
        for bundle in part.result.bundles:
            yield {
                "order": part.order,
                "bundle": bundle.id,
                "kind": bundle.kind,
                "serial": bundle.serial,
                "pieces": len(bundle.pieces),
                "top to bottom": ", ".join(str(lay.piece) for lay in reversed(bundle.pieces)),
                **_length("length", bundle.length_nm, plan.unit),
                **_length("width", bundle.width_nm, plan.unit),
                **_length("height", bundle.height_nm, plan.unit),
                **_weight(bundle.weight_g, plan.unit),
            }


def _departures(plan: Plan) -> Iterator[Row]:
    """A truck a row, times as the plan's own clock writes them."""
    loads = {load.id: load for part in plan.loads for load in part.result.loads}
    for one in plan.dispatch.departures if plan.dispatch else ():
        yield {
            "order": one.order,
            "deliveries": ", ".join(one.deliveries),
            "load": one.load,
            "deck": loads[one.load].deck,
            "bundles": len(loads[one.load].placed),
            **_weight(loads[one.load].weight_g, plan.unit),
            "door": one.door,
            **_leaving(one, plan.timetable.epoch),
            "must leave by": _clock(one.leave_by_s, plan.timetable.epoch),
            "wanted on site": _clock(one.need_by_s, plan.timetable.epoch),
            "late h": None if one.late_s is None else round(one.late_s / 3600, 2),
        }


def _leaving(one: Departure | None, epoch: str) -> Row:
    times = (one.ready_s, one.start_s, one.leave_s, one.arrive_s) if one else (None,) * 4
    names = ("last bundle built", "at the door from", "may leave", "on site if it leaves at once")
    return {name: _clock(seconds, epoch) for name, seconds in zip(names, times, strict=True)}


def _clock(seconds: int | None, epoch: str) -> str:
    return "" if seconds is None else (datetime.fromisoformat(epoch) + timedelta(seconds=seconds)).isoformat(timespec="minutes")


def _loads(plan: Plan) -> Iterator[Row]:
    leaving = {one.load: one for one in plan.dispatch.departures} if plan.dispatch else {}
    for part in plan.loads:
        for load in part.result.loads:
            for number, placed in enumerate(load.placed, start=1):
                yield {
                    "order": part.order,
                    "load": load.id,
                    "deck": load.deck,
                    "goes on": number,
                    "bundle": placed.bundle,
                    **_length("from front", placed.x_nm, plan.unit),
                    **_length("from left", placed.y_nm, plan.unit),
                    **_length("above deck", placed.z_nm, plan.unit),
                    "tie-downs": load.tiedowns.required if load.tiedowns else "",
                    "may leave": _leaving(leaving.get(load.id), plan.timetable.epoch)["may leave"],
                    **{f"load {name}": value for name, value in _weight(load.weight_g, plan.unit).items()},
                }


def _rack(plan: Plan) -> Iterator[Row]:
    """A way to cut a row: what its bars cost and what it asks beside the saw."""
    for point in plan.rack.points if plan.rack else ():
        yield {
            "bundles nested together": point.bundles,
            "cost of panel bars": round(point.cost / 100, 2),
            "rack slots": point.slots,
            "no order of these bars needs less than": point.lower_bound,
            "bundles open at one time": point.open,
            "bars": len(point.bars),
            "no other beats it": "yes" if point.best else "",
            "this plan": "yes" if plan.rack and point.id == plan.rack.chosen else "",
        }


def bar_lengths(cut: CutPlan) -> tuple[int, int]:
    """Return the nanometres of bars that a cut plan uses, and of those what is kept as drops."""
    keep_from = cut.job.keep_from_nm
    kept = sum(bar.drop_nm for bar in cut.bars if keep_from is not None and bar.drop_nm >= keep_from)
    return sum(bar.length_nm for bar in cut.bars), kept


def _yield(plan: Plan) -> Iterator[Row]:
    for cut in plan.cuts:
        used, kept = bar_lengths(cut)
        cost, floor = cut.result.cost or 0.0, cut.lower_bound
        yield {
            "material": cut.material,
            "pieces": sum(len(bar.pieces) for bar in cut.bars),
            "bars": len(cut.bars),
            **_length("bar length", used, plan.unit),
            **_length("kept drops", kept, plan.unit),
            "waste %": round(100 * (cut.result.waste or 0.0), 2),
            "cost": round(cost / 100, 2),
            "cost nothing can beat": round(floor / 100, 2),
            "gap %": round(100 * (cost - floor) / cost, 3) if cost else 0.0,
            "status": cut.status,
        }
