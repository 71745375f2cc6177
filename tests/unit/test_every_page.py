"""The large store that pages are measured on is a plan: no name in it is given twice, and what belongs together is found."""

from __future__ import annotations

from service.usecases.ask.rows import FloorRows
from tests.bench.every_page import house, many, shifted


def test_houses_made_again_under_other_names_share_no_name() -> None:
    one, plant = house()
    plan = many(one, 3)
    bars = [bar for cut in plan.cuts for bar in cut.bars]
    pieces = [slot.piece for bar in bars for slot in bar.pieces]
    for names, before in (
        ([operation.id for operation in plan.timetable.operations], len(one.timetable.operations)),
        ([job.id for job in plan.timetable.job.jobs], len(one.timetable.job.jobs)),
        ([bar.id for bar in bars], sum(len(cut.bars) for cut in one.cuts)),
        (pieces, len(one.takeoffs[0].pieces)),
        ([load.id for part in plan.loads for load in part.result.loads], len(one.loads[0].result.loads)),
    ):
        assert len(names) == len(set(names)) == 3 * before
    assert set(pieces) == {piece.id for takeoff in plan.takeoffs for piece in takeoff.pieces}
    rows = FloorRows(plan, plant)
    assert [len(rows.bars()), len(rows.bundles())] == [len(bars), 3 * len(one.stacks[0].result.bundles)]
    later = shifted(one.timetable, 60)
    assert [op.start_s - 60 for op in later.operations] == [op.start_s for op in one.timetable.operations]
