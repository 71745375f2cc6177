"""A plan's summary in words that a planner understands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from service.reports.tables import bar_lengths
from solver.domain.dispatch import Departure
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.units import show_length, show_weight


def summary(plan: Plan, plant: Plant, files: Mapping[str, Path] | None = None) -> str:
    """Return the plan in a dozen lines: pieces, bars, yield, bound, what is late, bundles, loads, sheets."""
    lines = [f"Plan {plan.id} for {', '.join(takeoff.building.order for takeoff in plan.takeoffs) or 'no orders'}", ""]
    pieces = [piece for takeoff in plan.takeoffs for piece in takeoff.pieces]
    panels = sum(piece.is_panel for piece in pieces)
    lines.append(f"Pieces    {len(pieces)}: {panels} panels, {len(pieces) - panels} channels and trims")
    lines += _bars(plan)
    lines += _rack(plan)
    lines += _promises(plan, plant)
    lines += _bundles(plan)
    lines += _loads(plan, plant)
    unsound = [proof for proof in plan.proofs if not proof.checked]
    lines.append(f"Checked   {len(plan.proofs)} parts by independent means, {len(unsound)} faults")
    lines += [f"          DOES NOT HOLD: {proof.stage} {proof.about}" for proof in unsound]
    for takeoff in plan.takeoffs:
        lines += [f"Look at   {takeoff.building.order}: {text}" for text in takeoff.warnings]
        lines += [
            f"Look at   {takeoff.building.order}: {one.rule.replace('_', ' ')} at {one.where} is "
            f"{show_length(one.got_nm, plan.unit)}, wanted {show_length(one.wanted_nm, plan.unit)}"
            for one in takeoff.broken
        ]
    if files:
        lines.append("Sheets    " + "\n          ".join(str(path) for path in files.values()))
    return "\n".join(lines)


def _bars(plan: Plan) -> list[str]:
    lines = []
    bars = sum(len(cut.bars) for cut in plan.cuts)
    proved = sum(cut.status == "optimal" for cut in plan.cuts)
    gap = 100 * (plan.cost - plan.lower_bound) / plan.cost if plan.cost else 0.0
    lines.append(
        f"Bars      {bars} in {len(plan.cuts)} materials, ${plan.cost / 100:,.2f}; nothing can cost less than "
        f"${plan.lower_bound / 100:,.2f} ({gap:.2f} % away; {proved} of {len(plan.cuts)} materials proved least)"
    )
    for cut in plan.cuts:
        used, kept = bar_lengths(cut)
        share = 100 * (1 - (cut.result.waste or 0.0))
        kept_text = f", {show_length(kept, plan.unit)} kept as drops" if kept else ""
        lines.append(
            f"          {cut.material!s:<28} {len(cut.bars):>4} bars {show_length(used, plan.unit):>12}"
            f"  yield {share:5.1f} %{kept_text}  {cut.status}"
        )
    return lines


def _rack(plan: Plan) -> list[str]:
    """What the chosen cut order asks beside the saw, and what the other ways cost."""
    curve = plan.rack
    if curve is None:
        return []
    mine, room = curve.picked, "" if curve.slots is None else f" of {curve.slots}"
    short = "" if curve.fits else ": MORE THAN THE RACK HOLDS, and no way that was found needs less"
    crowd = "" if mine.open <= curve.open_max else f" (room for {curve.open_max})"
    lines = [f"Rack      {mine.slots}{room} slots{short}; {mine.open} bundles open at one time{crowd}"]
    for point in curve.points:
        if point.best and point.id != curve.chosen:
            way = "each bundle by itself" if point.bundles == 1 else f"{point.bundles} bundles nested at a time"
            more = 100 * (point.cost - mine.cost) / mine.cost if mine.cost else 0.0
            lines.append(f"          {way}: {point.slots} slots, bars {more:+.2f} % (--rack-slots {point.slots})")
    return lines


def _promises(plan: Plan, plant: Plant) -> list[str]:
    zone = ZoneInfo(plant.time_zone)
    epoch = datetime.fromisoformat(plan.timetable.epoch)
    lines = []
    for promise in plan.timetable.deliveries:
        done = (epoch + timedelta(seconds=promise.done_s)).astimezone(zone)
        state = "in time"
        if promise.late_s:
            state = f"LATE by {promise.late_s / 3600:.1f} h"
        elif promise.due_s is not None:
            state = f"in time by {(promise.due_s - promise.done_s) / 3600:.1f} h"
        lines.append(f"Ships     {promise.order} {promise.delivery} loaded {done:%a %d %b %Y %H:%M}, {state}")
        lines += [f"          {text}" for text in promise.why]
    for waits in plan.timetable.waiting:
        at = (epoch + timedelta(seconds=waits.at_s)).astimezone(zone)
        what = f"{waits.most} bars before the saw" if waits.place == "saw" else f"{waits.most} pieces before the bundle bay"
        room = "" if waits.room is None else f", room for {waits.room}"
        short = waits.room is not None and waits.most > waits.room
        room += "" if waits.kept_to is None else f"; no order of work was found for less than {waits.kept_to}"
        lines.append(f"{'Look at' if short else 'Waits':<10}at most {what}, {at:%a %d %b %H:%M}{room}")
    return lines


def _bundles(plan: Plan) -> list[str]:
    lines = []
    for part in plan.stacks:
        heaviest = max((bundle.weight_g for bundle in part.result.bundles), default=0)
        aside = sum(len(bundle.set_aside) for bundle in part.result.bundles)
        text = f"Bundles   {part.order}: {len(part.result.bundles)}, heaviest {show_weight(heaviest, plan.unit)}"
        lines.append(text + (f", {aside} pieces to set aside" if aside else ", none to set aside"))
    return lines


def _loads(plan: Plan, plant: Plant) -> list[str]:
    lines = []
    leaving = {one.load: one for one in plan.dispatch.departures} if plan.dispatch else {}
    for part in plan.loads:
        floor = part.result.trucks_lower_bound
        proved = "proved fewest" if part.result.trucks == floor else f"no fewer than {floor} can do"
        lines.append(f"Trucks    {part.order}: {part.result.trucks}, {proved}")
        for load in part.result.loads:
            straps = f", {load.tiedowns.required} tie-downs" if load.tiedowns else ""
            weight = show_weight(load.weight_g, plan.unit)
            lines.append(f"Loads     {load.id} on {load.deck}: {len(load.placed)} bundles, {weight}{straps}")
            if load.id in leaving:
                lines.append("          " + _leaves(leaving[load.id], plan.timetable.epoch, plant))
    if plan.dispatch and plan.dispatch.most_late_s:
        least = plan.dispatch.lower_bound / 3600
        lines.append(
            f"          latest on site by {plan.dispatch.most_late_s / 3600:.1f} h; no order at the dock: under {least:.1f} h"
        )
    return lines


def _leaves(one: Departure, epoch: str, plant: Plant) -> str:
    def clock(seconds: int) -> str:
        at = datetime.fromisoformat(epoch) + timedelta(seconds=seconds)
        return f"{at.astimezone(ZoneInfo(plant.time_zone)):%a %d %b %H:%M}"

    text = f"{one.door} from {clock(one.start_s)}, may leave {clock(one.leave_s)}"
    if one.late_s is None or one.leave_by_s is None:
        return text
    text = f"{text}, must by {clock(one.leave_by_s)}"
    return f"{text}: {f'LATE on site by {one.late_s / 3600:.1f} h' if one.late_s > 0 else 'in time'}"
