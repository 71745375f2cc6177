"""The time left of a plan is true to the end, sheets with it, and the whole bar never goes back."""

from __future__ import annotations

import threading
from typing import get_args

import pytest

from service.stations.progress_words import BUSY, NAMES, SAID, STAGES, percent_text, stage_words, time_left_words
from service.usecases.make.progress import SHEET_S_A_PIECE, SHEETS_S, WORDS, ProgressWatcher
from solver.domain.progress import PlanProgress, PlanStage, StageProgress
from solver.search import Search, calling_at_end
from tests.languages import SPANISH

LIMIT_S, CHECKS_S, PIECES = 20.0, 2.0, 400
SHEETS = SHEETS_S + SHEET_S_A_PIECE * PIECES


class Made:
    """A plan by a clock that we turn: a search of 20 s, checks of 2 s after it, then sheets."""

    def __init__(self) -> None:
        self.now, self.kept, self.crowd = 100.0, False, 1.0
        self.end = self.now + LIMIT_S
        self.watched = ProgressWatcher(
            lambda: 0.0 if self.kept else self.end - self.now, lambda: self.now, lambda: (self.now - 100.0) / self.crowd
        )

    def on_search_progress(self, checks_s: float = CHECKS_S, **done: float) -> None:
        stages = (StageProgress(stage=stage, done=done.get(stage, 0.0)) for stage in get_args(PlanStage))
        self.watched.on_search_progress(PlanProgress(stages=tuple(stages), checks_s=checks_s, pieces=PIECES))

    def left_s(self) -> float:
        return self.watched.told().making.left_s


def test_the_time_left_is_that_of_the_search_then_of_the_checks_with_the_sheets_behind_it() -> None:
    made = Made()
    made.on_search_progress(takeoff=1.0)
    assert made.left_s() == pytest.approx(LIMIT_S + SHEETS)
    made.now += 7.5
    assert made.left_s() == pytest.approx(LIMIT_S - 7.5 + SHEETS)  # also where nothing new was heard
    made.now = made.end
    made.on_search_progress(CHECKS_S, takeoff=1.0, nest=1.0)
    assert made.left_s() == pytest.approx(CHECKS_S + SHEETS)


def test_told_to_keep_what_it_has_a_plan_takes_only_checks_and_sheets_more() -> None:
    made = Made()
    made.on_search_progress(takeoff=1.0)
    before = made.watched.told()
    made.kept = True
    after = made.watched.told()
    assert after.making.left_s == pytest.approx(CHECKS_S + SHEETS)
    assert after.fraction >= before.fraction


def test_sheets_that_take_twice_as_long_as_thought_are_seen_to_and_the_bar_is_true_to_the_end() -> None:
    """Issue 12, 20: the bar stood at 100 % for the last 28 of 70 s."""
    made, seen = Made(), []
    made.on_search_progress(takeoff=1.0)
    made.now = made.end
    for tenth in range(11):
        made.watched.draw("labels.pdf" if tenth else "", tenth / 10)
        told = made.watched.told()
        seen.append(told)
        really = 2 * SHEETS * (10 - tenth) / 10
        assert told.making.left_s <= really + 1e-9
        if tenth >= 5:
            assert told.making.left_s >= 0.74 * really
        made.now += 2 * SHEETS / 10
    assert [told.fraction for told in seen] == sorted(told.fraction for told in seen)
    assert seen[0].fraction < 0.8  # 20 of 34 s, in truth
    assert all(told.fraction < 1 for told in seen)
    assert [told.making.stages[-1].parts for told in seen] == list(range(11))
    assert {told.doing for told in seen} == {"drawing sheets"}


def test_where_others_work_beside_it_sheets_take_as_much_longer_as_the_search_did() -> None:
    made = Made()
    made.crowd = 4.0
    made.on_search_progress(takeoff=1.0)
    made.now = made.end
    assert made.left_s() == pytest.approx(CHECKS_S + 4 * SHEETS)
    made.watched.draw("", 0.0)
    made.now += SHEETS
    assert made.left_s() == pytest.approx(3 * SHEETS)


def test_a_library_that_knows_only_its_own_limit_is_ended_with_the_search() -> None:
    ended, told = threading.Event(), threading.Event()
    with calling_at_end(Search(left_s=lambda: 0.0 if told.is_set() else 60.0), ended.set):
        assert not ended.wait(0.3)
        told.set()
        assert ended.wait(30)


def test_a_search_can_be_ended_until_its_last_stage_is_done() -> None:
    made = Made()
    assert made.watched.told().making.searching
    made.on_search_progress(takeoff=1.0, nest=0.5)
    assert made.watched.told().making.searching
    assert made.watched.told().doing == WORDS["stack"]
    made.on_search_progress(**dict.fromkeys(("takeoff", "stack", "nest", "sequence", "slit", "load", "schedule"), 1.0))
    assert not made.watched.told().making.searching
    made = Made()
    made.watched.draw("", 0.0)
    assert not made.watched.told().making.searching


@pytest.mark.parametrize(
    "stage, said",
    [
        (StageProgress(stage="nest"), ""),
        (StageProgress(stage="nest", parts=17, proved=12, gap=0.0037), "12 of 17 proved best, the rest at most 0.4 % from it"),
        (StageProgress(stage="nest", parts=17, proved=12), "12 of 17 proved best"),
        (StageProgress(stage="stack", parts=3, proved=3, gap=0.0), "all 3 proved best"),
        (StageProgress(stage="schedule", parts=1), ""),
        (StageProgress(stage="schedule", parts=1, proved=1, gap=0.0), "proved best"),
        (StageProgress(stage="schedule", parts=1, gap=0.121), "at most 13 % from the best"),
        (StageProgress(stage="takeoff", parts=3, proved=3, gap=0.0), "orders: 3"),
        (StageProgress(stage="check", parts=40, proved=39), "39 of 40 hold"),
        (StageProgress(stage="sheets", parts=5, proved=5), "drawn: 5"),
    ],
)
def test_what_is_proved_is_said_in_words(stage: StageProgress, said: str) -> None:
    assert stage_words(stage) == said


def test_a_share_is_never_told_as_less_than_it_is() -> None:
    assert [percent_text(share) for share in (0.0, 0.001, 0.0011, 0.099, 0.0991, 0.5, 1.0)] == [
        "0.0", "0.1", "0.2", "9.9", "10", "50", "100",
    ]  # fmt: skip


def test_the_time_left_is_said_roughly() -> None:
    assert [time_left_words(seconds) for seconds in (0.4, 3.2, 89.0, 91.0, 600.0)] == [
        "nearly done", "about 4 s left", "about 89 s left", "about 2 min left", "about 10 min left",
    ]  # fmt: skip


def test_all_words_of_progress_have_their_spanish() -> None:
    assert {*SAID, *BUSY, *NAMES.values()} - {text for _, text in SPANISH.texts} == set()
    assert tuple(NAMES) == STAGES == tuple(WORDS)
