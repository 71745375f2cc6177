"""A plan's summary in words that a planner understands."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from service.reports.tables import bar_lengths
from solver.documents.lateness_words import duration_text, lateness_reasons
from solver.documents.names import ThingNames
from solver.documents.notes import translate_note
from solver.documents.timetable import date_words
from solver.domain.dispatch import Departure
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.language import ENGLISH, Language
from solver.units import show_length, show_weight


def plan_summary(plan: Plan, plant: Plant, files: Mapping[str, Path] | None = None, language: Language = ENGLISH) -> str:
    """Return the plan in a dozen lines: pieces, bars, yield, bound, what is late, bundles, loads, sheets."""
    names = ThingNames(plant, language)
    orders = ", ".join(takeoff.building.order for takeoff in plan.takeoffs) or language.say("no orders")
    lines = [language.say("Plan {id} for {orders}", id=plan.id, orders=orders), ""]
    pieces = [piece for takeoff in plan.takeoffs for piece in takeoff.pieces]
    panels = sum(piece.is_panel for piece in pieces)
    said = language.say(
        "{n}: {panels} panels, {rest} channels and trims", n=len(pieces), panels=panels, rest=len(pieces) - panels
    )
    lines.append(_row(language.say("Pieces"), said))
    lines += _bars(plan, names)
    lines += _rack(plan, language)
    lines += _promises(plan, plant, names)
    lines += _bundles(plan, language)
    lines += _loads(plan, plant, language)
    unsound = [proof for proof in plan.proofs if not proof.checked]
    said = language.say("{n} parts by independent means, {faults} faults", n=len(plan.proofs), faults=len(unsound))
    lines.append(_row(language.say("Checked"), said))
    for proof in unsound:
        lines.append(_row("", language.say("DOES NOT HOLD: {stage} {name}", stage=proof.stage, name=names.of(proof.about))))
    look = language.say("Look at")
    for takeoff in plan.takeoffs:
        order = takeoff.building.order
        lines += [_row(look, f"{order}: {translate_note(language, text, plan.unit)}") for text in takeoff.warnings]
        for one in takeoff.broken:
            got, wanted = show_length(one.got_nm, plan.unit), show_length(one.wanted_nm, plan.unit)
            rule = language.say(one.rule.replace("_", " "))
            told = language.say(
                "{rule} at {where} is {got}, wanted {wanted}", rule=rule, where=one.where, got=got, wanted=wanted
            )
            lines.append(_row(look, f"{order}: {told}"))
    if files:
        lines += [_row("" if n else language.say("Sheets"), str(path)) for n, path in enumerate(files.values())]
    return "\n".join(lines)


def _row(label: str, text: str) -> str:
    """A line: what it is about, then what is said of it."""
    return f"{label:<9} {text}"


def _bars(plan: Plan, names: ThingNames) -> list[str]:
    language = names.language
    bars = sum(len(cut.bars) for cut in plan.cuts)
    said = language.say(
        "{bars} in {materials} materials, ${cost}; nothing can cost less than ${bound} ({gap} % away; {proved} of {materials} "
        "materials proved least)",
        bars=bars,
        materials=len(plan.cuts),
        cost=f"{plan.cost / 100:,.2f}",
        bound=f"{plan.lower_bound / 100:,.2f}",
        gap=f"{100 * (plan.cost - plan.lower_bound) / plan.cost if plan.cost else 0.0:.2f}",
        proved=sum(cut.status == "optimal" for cut in plan.cuts),
    )
    lines = [_row(language.say("Bars"), said)]
    for cut in plan.cuts:
        used, kept = bar_lengths(cut)
        share = 100 * (1 - (cut.result.waste or 0.0))
        kept_text = language.say(", {length} kept as drops", length=show_length(kept, plan.unit)) if kept else ""
        count = language.say("{n} bars", n=f"{len(cut.bars):>4}")
        part = language.say("yield {share} %", share=f"{share:5.1f}")
        status = language.text(cut.status, "status")
        lines.append(
            _row("", f"{names.of(cut.name):<36} {count} {show_length(used, plan.unit):>12}  {part}{kept_text}  {status}")
        )
    return lines


def _rack(plan: Plan, language: Language) -> list[str]:
    """What the chosen cut order asks beside the saw, and what the other ways cost."""
    curve = plan.rack
    if curve is None:
        return []
    mine = curve.chosen_point
    slots = f"{mine.slots}" if curve.slots is None else language.say("{n} of {m}", n=mine.slots, m=curve.slots)
    short = "" if curve.fits else language.say(": MORE THAN THE RACK HOLDS, and no way that was found needs less")
    crowd = "" if mine.open <= curve.open_max else language.say(" (room for {n})", n=curve.open_max)
    said = language.say(
        "{slots} slots{short}; {n} bundles open at one time{crowd}", slots=slots, short=short, n=mine.open, crowd=crowd
    )
    lines = [_row(language.say("Rack"), said)]
    for point in curve.points:
        if point.best and point.id != curve.chosen:
            way = language.say("{n} bundles nested at a time", n=point.bundles)
            if point.bundles == 1:
                way = language.say("each bundle by itself")
            more = 100 * (point.cost - mine.cost) / mine.cost if mine.cost else 0.0
            told = language.say(
                "{way}: {n} slots, bars {more} % (--rack-slots {n})", way=way, n=point.slots, more=f"{more:+.2f}"
            )
            lines.append(_row("", told))
    return lines


def _promises(plan: Plan, plant: Plant, names: ThingNames) -> list[str]:
    language, zone = names.language, ZoneInfo(plant.time_zone)
    epoch = datetime.fromisoformat(plan.timetable.epoch)

    def at(seconds: float) -> datetime:
        return (epoch + timedelta(seconds=seconds)).astimezone(zone)

    def clock(seconds: float) -> str:
        return f"{date_words(at(seconds), language)} {at(seconds):%H:%M}"

    named = ThingNames.for_timetable(plant, language, plan.timetable, plan.sequences).table(plan.timetable)
    lines = []
    for promise in plan.timetable.deliveries:
        state = language.say("in time")
        if promise.late_s:
            state = language.say("LATE by {span}", span=duration_text(promise.late_s))
        elif promise.due_s is not None:
            state = language.say("in time, {span} to spare", span=duration_text(promise.due_s - promise.done_s))
        done = at(promise.done_s)
        when = f"{date_words(done, language)} {done:%Y %H:%M}"
        said = language.say(
            "{order} {delivery} loaded {when}, {state}", order=promise.order, delivery=promise.delivery, when=when, state=state
        )
        lines.append(_row(language.say("Ships"), said))
        lines += [_row("", text) for text in (lateness_reasons(promise, named.operations, language) if promise.why else ())]
    for waits in plan.timetable.waiting:
        what = language.say("{n} pieces before the bundle bay", n=waits.most)
        if waits.place == "saw":
            what = language.say("{n} bars before the saw", n=waits.most)
        room = "" if waits.room is None else language.say(", room for {n}", n=waits.room)
        label = language.say("Waits") if waits.over is None else language.say("Look at")
        lines.append(_row(label, language.say("at most {what}, {when}{room}", what=what, when=clock(waits.at_s), room=room)))
        if waits.over is not None:
            over, hours = waits.over.most - waits.over.size, (waits.over.time + 1800) // 3600
            since, until = clock(waits.over.since), clock(waits.over.until)
            text = language.say(
                "{n} too many at the worst, {hours} h in all, between {since} and {until}",
                n=over,
                hours=hours,
                since=since,
                until=until,
            )
            lines.append(_row("", text))
            advice = language.say("less would wait if fewer weeks were nested together; or make room, with another rack")
            lines.append(_row("", advice))
    return lines


def _bundles(plan: Plan, language: Language) -> list[str]:
    lines = []
    for part in plan.stacks:
        heaviest = show_weight(max((bundle.weight_g for bundle in part.result.bundles), default=0), plan.unit)
        aside = sum(len(bundle.set_aside) for bundle in part.result.bundles)
        text = language.say("{order}: {n}, heaviest {weight}", order=part.order, n=len(part.result.bundles), weight=heaviest)
        more = language.say(", {n} pieces to set aside", n=aside) if aside else language.say(", none to set aside")
        lines.append(_row(language.say("Bundles"), text + more))
    return lines


def _loads(plan: Plan, plant: Plant, language: Language) -> list[str]:
    lines = []
    leaving = {departure.load: departure for departure in plan.dispatch.departures} if plan.dispatch else {}
    for part in plan.loads:
        floor = part.result.trucks_lower_bound
        proved = language.say("no fewer than {n} can do", n=floor)
        if part.result.trucks == floor:
            proved = language.say("proved fewest")
        lines.append(_row(language.say("Trucks"), f"{part.order}: {part.result.trucks}, {proved}"))
        for load in part.result.loads:
            straps = language.say(", {n} tie-downs", n=load.tiedowns.required) if load.tiedowns else ""
            said = language.say("{load} on {deck}: {n} bundles", load=load.id, deck=load.deck, n=len(load.placed))
            lines.append(_row(language.say("Loads"), f"{said}, {show_weight(load.weight_g, plan.unit)}{straps}"))
            if load.id in leaving:
                lines.append(_row("", _leaves(leaving[load.id], plan.timetable.epoch, plant, language)))
    if plan.dispatch and plan.dispatch.most_late_s:
        late, least = f"{plan.dispatch.most_late_s / 3600:.1f}", f"{plan.dispatch.lower_bound / 3600:.1f}"
        text = language.say("latest on site by {late} h; no order at the dock: under {least} h", late=late, least=least)
        lines.append(_row("", text))
    return lines


def _leaves(one: Departure, epoch: str, plant: Plant, language: Language) -> str:
    def clock(seconds: int) -> str:
        at = (datetime.fromisoformat(epoch) + timedelta(seconds=seconds)).astimezone(ZoneInfo(plant.time_zone))
        return f"{date_words(at, language)} {at:%H:%M}"

    text = language.say(
        "{door} from {start}, may leave {leave}", door=one.door, start=clock(one.start_s), leave=clock(one.leave_s)
    )
    if one.late_s is None or one.leave_by_s is None:
        return text
    state = language.say("in time")
    if one.late_s > 0:
        state = language.say("LATE on site by {span}", span=duration_text(one.late_s))
    return language.say("{text}, must by {when}: {state}", text=text, when=clock(one.leave_by_s), state=state)
