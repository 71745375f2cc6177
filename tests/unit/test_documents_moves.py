"""What a new timetable changes of the one before it: kinds of moves, how far, work that comes and goes, deliveries."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.documents.moves import KINDS, compare_timetables, move_kind_words
from solver.domain.timetable import PlannedOperation, Timetable
from solver.units import Seconds
from tests.languages import LANGUAGES, Language
from tests.samples import short_timetable


def _with(table: Timetable, **changes: dict[str, object]) -> Timetable:
    """The timetable with fields of some operations changed, by id."""
    made = tuple(replace(op, **changes.get(op.id, {})) for op in table.operations)  # type: ignore[arg-type]
    return replace(table, operations=made)


def test_a_timetable_against_itself_changes_nothing() -> None:
    told = compare_timetables(short_timetable(), short_timetable())
    assert (told.moves, told.quiet, told.over, told.longest_s, told.counts) == ((), 4, 0, 0, {})
    assert [one.by_s for one in told.deliveries] == [0]


def test_each_kind_of_move_is_told_longest_first() -> None:
    old = short_timetable()
    new = _with(
        old,
        o1={"start_s": Seconds(600), "end_s": Seconds(3_300)},
        o2={"machine": "press-2"},
        o4={"start_s": Seconds(90_000), "end_s": Seconds(92_400)},
    )
    extra = replace(old.operations[0], id="o9", about="lot 9")
    new = replace(new, operations=(*(op for op in new.operations if op.id != "o3"), extra))
    told = compare_timetables(old, new)
    assert [(move.work.id, move.kind, move.by_s) for move in told.moves] == [
        ("o4", "earlier", -4_200),
        ("o1", "later", 600),
        ("o2", "elsewhere", 0),
        ("o9", "added", 0),
        ("o3", "gone", 0),
    ]
    assert told.quiet == 0
    assert told.counts == dict.fromkeys(("earlier", "later", "elsewhere", "added", "gone"), 1)
    assert (told.longest_s, told.sum_s) == (4_200, 4_800)


def test_work_that_starts_as_before_but_ends_later_has_moved() -> None:
    """A breakdown in the middle of work that pauses: the start stays, the end does not."""
    old = short_timetable()
    told = compare_timetables(old, _with(old, o1={"end_s": Seconds(9_900)}))
    assert [(move.work.id, move.kind, move.by_s) for move in told.moves] == [("o1", "later", 7_200)]


def test_times_are_compared_on_the_clock_not_from_each_plan_s_own_start() -> None:
    """A plan made a day later: the same instants are no move, work over by then is done, not dropped."""
    old = short_timetable()
    day = 86_400
    left = tuple(
        replace(op, start_s=Seconds(op.start_s - day), end_s=Seconds(op.end_s - day))
        for op in old.operations
        if op.start_s >= day
    )
    late = replace(old.deliveries[0], done_s=Seconds(96_600 - day + 1_800), due_s=Seconds(90_000 - day))
    new = replace(old, epoch="2031-05-06T06:00:00-06:00", operations=left, deliveries=(late,))
    told = compare_timetables(old, new)
    assert (told.moves, told.quiet, told.over) == ((), 2, 2)
    delivery = told.deliveries[0]
    assert delivery.by_s == 1_800
    assert delivery.old is not None
    assert delivery.new is not None
    assert delivery.old.due_s == delivery.new.due_s == 90_000 - day


def test_a_delivery_of_one_timetable_alone_is_told_without_the_other() -> None:
    old = short_timetable()
    other = replace(old.deliveries[0], order="new-1")
    told = compare_timetables(old, replace(old, deliveries=(other,)))
    assert {(one.order, one.old is None, one.new is None) for one in told.deliveries} == {
        ("new-1", True, False),
        ("ell-12", False, True),
    }


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_kind_of_move_has_a_word(language: Language) -> None:
    words = [move_kind_words(kind, language) for kind in KINDS]
    assert len(set(words)) == len(KINDS)


def test_the_work_of_a_move_is_what_is_now_or_what_was() -> None:
    old = short_timetable()
    gone = compare_timetables(old, replace(old, operations=old.operations[1:])).moves[0]
    assert isinstance(gone.work, PlannedOperation)
    assert (gone.work.id, gone.kind) == ("o1", "gone")
