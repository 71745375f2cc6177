"""Labels for all pieces, tags for all bundles, sheets for all trucks, and a summary that says what is counted."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from service.reports.summary import plan_summary
from solver.documents.bundles import bundle_tags
from solver.documents.index import PlanIndex
from solver.documents.labels import piece_labels
from solver.documents.loads import load_sheets
from solver.documents.saw import saw_sheets
from solver.domain.document import BundleTag, LoadSheet, PieceLabel, SawSheet
from solver.domain.plan import Plan
from solver.domain.plant import Plant

PLACES = {"foot_end", "inside_face"}  # one to read in the stack, one on the standing wall


@dataclass(frozen=True, slots=True, kw_only=True)
class Paper:
    """What is printed of a plan, as rows, and its summary."""

    labels: tuple[PieceLabel, ...]
    tags: tuple[BundleTag, ...]
    trucks: tuple[LoadSheet, ...]
    saws: tuple[SawSheet, ...]
    summary: str


def paper_of(plan: Plan, plant: Plant) -> Paper:
    """Return the rows of a plan's paper."""
    index = PlanIndex(plan, plant)
    return Paper(
        labels=piece_labels(index),
        tags=bundle_tags(index),
        trucks=load_sheets(index),
        saws=saw_sheets(index),
        summary=plan_summary(plan, plant),
    )


def faults_of_paper(plan: Plan, paper: Paper) -> Iterator[str]:
    """Give everything that paper leaves out or says otherwise than the plan."""
    yield from _labels(plan, paper)
    yield from _tags(plan, paper)
    yield from _sheets(plan, paper)
    yield from _summary(plan, paper.summary)


def _labels(plan: Plan, paper: Paper) -> Iterator[str]:
    bars = {item.piece: (bar.id, n) for cut in plan.cuts for bar in cut.bars for n, item in enumerate(bar.pieces, 1)}
    lying = {
        lay.piece: (bundle.id, len(bundle.pieces) - n)
        for part in plan.stacks
        for bundle in part.result.bundles
        for n, lay in enumerate(bundle.pieces)
    }
    places: dict[str, list[str]] = defaultdict(list)
    for label in paper.labels:
        name = label.piece.id
        places[name].append(label.place)
        if name not in label.code:
            yield f"the code of {name} says {label.code}"
        if (label.bar, label.bar_at) != bars.get(name) or (label.bundle, label.bundle_at) != lying.get(name):
            yield f"the label of {name} names another place"
    for takeoff in plan.takeoffs:
        for piece in takeoff.pieces:
            if Counter(places[piece.id]) != Counter(PLACES):
                yield f"{piece.id} has labels {places[piece.id]}"
    codes = {label.short_code for label in paper.labels}
    if len(codes) != len(places):
        yield "two pieces have one short code, or one has two"


def _tags(plan: Plan, paper: Paper) -> Iterator[str]:
    tags = Counter(tag.bundle.id for tag in paper.tags)
    bundles = {bundle.id: bundle for part in plan.stacks for bundle in part.result.bundles}
    yield from (f"{name} has {tags[name]} tags" for name in bundles if tags[name] != 1)
    if len({tag.serial for tag in paper.tags}) != len(paper.tags):
        yield "two bundles have one serial"
    for tag in paper.tags:
        mine = bundles.get(tag.bundle.id)
        if mine is not None and [row.piece for row in tag.rows] != [lay.piece for lay in reversed(mine.pieces)]:
            yield f"the tag of {mine.id} does not list its pieces from the top"


def _sheets(plan: Plan, paper: Paper) -> Iterator[str]:
    sheets = Counter(sheet.load.id for sheet in paper.trucks)
    loads = {load.id: load for part in plan.loads for load in part.result.loads}
    yield from (f"{name} has {sheets[name]} sheets" for name in loads if sheets[name] != 1)
    for sheet in paper.trucks:
        load = loads.get(sheet.load.id)
        if load is not None and [row.bundle for row in sheet.rows] != [item.bundle for item in load.placed]:
            yield f"the sheet of {load.id} does not list its bundles"
    told = Counter(bar.bar.id for sheet in paper.saws for bar in sheet.bars)
    yield from (f"{bar.id} is on {told[bar.id]} saw sheets" for cut in plan.cuts for bar in cut.bars if told[bar.id] != 1)


def _summary(plan: Plan, text: str) -> Iterator[str]:
    """What the summary says in figures: pieces, bars, lengths, dollars, bundles, trucks, deliveries."""
    pieces = [piece for takeoff in plan.takeoffs for piece in takeoff.pieces]
    panels = sum(piece.role in ("wall_panel", "roof_panel") for piece in pieces)
    bars = [bar for cut in plan.cuts for bar in cut.bars]
    lines = [
        f"Pieces    {len(pieces)}: {panels} panels, {len(pieces) - panels} channels and trims",
        f"Bars      {len(bars)} in {len(plan.cuts)} materials,",
    ]
    for part in plan.stacks:
        lines.append(f"Bundles   {part.order}: {len(part.result.bundles)}, ")
    for loaded in plan.loads:
        lines.append(f"Trucks    {loaded.order}: {len(loaded.result.loads)}, ")
        lines += [f"Loads     {load.id} on {load.deck}: {len(load.placed)} bundles, " for load in loaded.result.loads]
    for one in plan.timetable.deliveries:
        lines.append(f"Ships     {one.order} {one.delivery} loaded ")
    yield from (f"the summary does not say: {line}" for line in lines if f"\n{line}" not in text)
    late = sum(one.late_s > 0 for one in plan.timetable.deliveries)
    said = len(re.findall(r"^Ships .*LATE by", text, flags=re.MULTILINE))
    if said != late:
        yield f"the summary says that {said} are late, {late} are"
    if f"${sum(cut.result.cost or 0.0 for cut in plan.cuts) / 100:,.2f}; nothing" not in text:
        yield "the summary says another price"
