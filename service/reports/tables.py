"""A plan as tables: pieces, bars, bundles, loads, departures, yield and rack slots, written as CSV and as one workbook."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from service.reports.cells import escape_formula
from solver.documents.index import PlanIndex
from solver.documents.names import ThingNames, stock_source_words
from solver.documents.numbering import number_bars
from solver.documents.shared_blanks import shared_blank_note
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Departure
from solver.domain.ids import BarId
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.language import ENGLISH
from solver.units import Unit, pounds_from_grams, rounded_shop_number, show_length

Row = dict[str, Any]
Clock = Callable[[int | None], str]  # seconds from the plan's epoch to the time that the plant's clock shows


def plan_tables(plan: Plan, plant: Plant) -> dict[str, pd.DataFrame]:
    """Return the plan's tables by name; lengths as people read them, as numbers so rounded, and exact in nanometres.

    Ids are for programs; beside each stands its name. Times are those of the plant's clock, with their offset.
    """
    clock = partial(_clock, epoch=plan.timetable.epoch, zone=plant.time_zone)
    names = PlanIndex(plan, plant).names
    makers: dict[str, Callable[[Plan], Iterator[Row]]] = {
        "pieces": partial(_pieces, names=names),
        "bars": partial(_bars, names=names),
        "bundles": _bundles,
        "loads": partial(_loads, clock=clock),
        "departures": partial(_departures, clock=clock),
        "yield": partial(_yield, names=names),
        "rack": _rack,
    }
    return {name: pd.DataFrame(list(make(plan))) for name, make in makers.items()}


def write_tables(plan: Plan, out: Path, plant: Plant) -> dict[str, Path]:
    """Write each table as CSV and all as one workbook into `out`, in the plant's words and time; return the paths by name."""
    made = plan_tables(plan, plant)
    paths = {name: out / f"{name}.csv" for name in made}
    for name, frame in made.items():
        frame.map(escape_formula).to_csv(paths[name], index=False)
    paths["workbook"] = out / "tables.xlsx"
    with pd.ExcelWriter(paths["workbook"], engine="openpyxl") as book:
        for name, frame in made.items():
            frame.map(escape_formula).to_excel(book, sheet_name=name, index=False, freeze_panes=(1, 0))
    return paths


def _length(name: str, length_nm: int, unit: Unit) -> Row:
    return {name: show_length(length_nm, unit), f"{name} {unit}": rounded_shop_number(length_nm, unit), f"{name} nm": length_nm}


def _weight(weight_g: int, unit: Unit) -> Row:
    return {"weight lb": round(pounds_from_grams(weight_g), 1)} if unit == "in" else {"weight kg": round(weight_g / 1000, 1)}


def _pieces(plan: Plan, names: ThingNames) -> Iterator[Row]:
    bundle_of = {lay.piece: bundle.id for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces}
    many = len(plan.takeoffs) > 1
    marks = {piece.id: str(piece.id) if many else piece.mark for takeoff in plan.takeoffs for piece in takeoff.pieces}
    laid = {item.piece: (bar, item) for cut in plan.cuts for bar in cut.bars for item in bar.pieces}
    for takeoff in plan.takeoffs:
        for piece in takeoff.pieces:
            yield {
                "order": piece.order,
                "mark": piece.mark,
                "stands": piece.stands,
                "what": piece.role.replace("_", " "),
                "material": piece.material,
                "material name": names.of(piece.material),
                **_length("length", piece.length_nm, plan.unit),
                **_length("left side", piece.edge_a[1] - piece.edge_a[0], plan.unit),
                **_length("right side", piece.edge_b[1] - piece.edge_b[0], plan.unit),
                **_length("width", piece.width_nm, plan.unit),
                **_weight(piece.weight_g, plan.unit),
                "bar": laid[piece.id][0].id if piece.id in laid else "",
                "bar name": names.of(laid[piece.id][0].id) if piece.id in laid else "",
                "out of": shared_blank_note(*laid[piece.id], marks) if piece.id in laid else "",
                "bundle": bundle_of.get(piece.id, ""),
                "check before standing": "yes" if piece.closing else "",
            }


def _bars(plan: Plan, names: ThingNames) -> Iterator[Row]:
    numbers = number_bars((bar for cut in plan.cuts for bar in cut.bars), plan.sequences, plan.timetable.operations)
    bars = {bar.id: (cut, bar) for cut in plan.cuts for bar in cut.bars}
    for name, number in numbers.items():
        cut, bar = bars[BarId(name)]
        yield {
            "machine": number.machine,
            "cut order": number.at,
            "material": cut.material,
            "material name": names.of(cut.material),
            "bar": bar.id,
            "bar name": names.of(bar.id),
            "stock": bar.stock,
            "from": stock_source_words(bar.stock, bar.length_nm, plan.unit, ENGLISH),
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


def _departures(plan: Plan, clock: Clock) -> Iterator[Row]:
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
            **_leaving(one, clock),
            "must leave by": clock(one.leave_by_s),
            "wanted on site": clock(one.need_by_s),
            "late h": None if one.late_s is None else round(one.late_s / 3600, 2),
        }


def _leaving(one: Departure | None, clock: Clock) -> Row:
    times = (one.ready_s, one.start_s, one.leave_s, one.arrive_s) if one else (None,) * 4
    names = ("last bundle built", "at the door from", "may leave", "on site if it leaves at once")
    return {name: clock(seconds) for name, seconds in zip(names, times, strict=True)}


def _clock(seconds: int | None, *, epoch: str, zone: str) -> str:
    if seconds is None:
        return ""
    at = datetime.fromisoformat(epoch) + timedelta(seconds=seconds)
    return at.astimezone(ZoneInfo(zone)).isoformat(timespec="minutes")


def _loads(plan: Plan, clock: Clock) -> Iterator[Row]:
    leaving = {departure.load: departure for departure in plan.dispatch.departures} if plan.dispatch else {}
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
                    "may leave": _leaving(leaving.get(load.id), clock)["may leave"],
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


def _yield(plan: Plan, names: ThingNames) -> Iterator[Row]:
    for cut in plan.cuts:
        used, kept = bar_lengths(cut)
        cost, floor = cut.result.cost or 0.0, cut.lower_bound
        yield {
            "material": cut.material,
            "material name": names.of(cut.material),
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
