"""A plan made for who sits at the terminal: its stages on standard error, Ctrl-C to keep what it has, twice to stop."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from types import FrameType
from typing import NoReturn

from rich.console import Console
from rich.live import Live
from rich.progress_bar import ProgressBar
from rich.table import Table

from service.stations.progress_words import KEEPING, NAMES, stage_words, time_left_words
from service.usecases.make.plan_files import plan_by_search
from service.usecases.make.progress import ProgressWatcher
from service.usecases.make.stages import countdown
from solver.domain.building import Building
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.language import ENGLISH, Language
from solver.search import Search

LOOK_S = 0.1
INTERRUPTED = 130  # the shell's own code for a program that Ctrl-C ended


class TerminalSearch:
    """One search under a person's eyes."""

    def __init__(self, limit_s: float, language: Language = ENGLISH) -> None:
        """`limit_s`: seconds to search."""
        left = countdown(limit_s)
        self.language = language
        self.keep, self.stop = threading.Event(), threading.Event()
        self.left_s: Callable[[], float] = lambda: 0.0 if self.keep.is_set() else left()
        self.watched = ProgressWatcher(self.left_s)

    def plan(
        self,
        buildings: tuple[Building, ...],
        plant: Plant,
        *,
        epoch: str,
        seed: int,
        previous: tuple[Takeoff, ...] = (),
        floor: FloorSnapshot | None = None,
    ) -> Plan:
        """Return the plan of some buildings, made beside this thread, which stays free to hear Ctrl-C.

        Raises InputError and NoPlan, and KeyboardInterrupt where it was stopped.
        """
        search = Search(seed=seed, left_s=self.left_s, stop=self.stop.is_set)
        made: list[Plan] = []
        failed: list[BaseException] = []

        def work() -> None:
            try:
                plan = plan_by_search(
                    buildings,
                    plant,
                    search,
                    epoch=epoch,
                    previous=previous,
                    floor=floor,
                    report=self.watched.on_search_progress,
                )
                made.append(plan)
            except BaseException as error:
                failed.append(error)

        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        while thread.is_alive() and not self.stop.is_set():
            thread.join(LOOK_S)
        if self.stop.is_set():
            raise KeyboardInterrupt
        if failed:
            raise failed[0]
        return replace(made[0], seconds=min(made[0].seconds, round(self.watched.elapsed_s(), 3)))

    @contextmanager
    def shown(self) -> Iterator[None]:
        """Show how far it is on standard error, and hear Ctrl-C, while this lasts."""
        before = signal.signal(signal.SIGINT, self._interrupted)
        try:
            with Live(get_renderable=self._picture, console=Console(stderr=True), transient=True, refresh_per_second=4):
                yield
        finally:
            signal.signal(signal.SIGINT, before)

    def _interrupted(self, _number: int, _frame: FrameType | None) -> None:
        """Ctrl-C: the first ends the search and keeps what it has, the second ends all."""
        if self.keep.is_set():
            self.stop.set()
            raise KeyboardInterrupt
        self.keep.set()

    def _picture(self) -> Table:
        told = self.watched.told()
        table = Table.grid(padding=(0, 2))
        for stage in told.making.stages:
            name = self.language.say(NAMES[stage.stage])
            table.add_row(name, _bar(stage.done), stage_words(stage, self.language))
        left = time_left_words(told.making.left_s, self.language)
        table.add_row("", _bar(told.fraction), f"{told.fraction:.0%}, {left}")
        if self.keep.is_set():
            table.add_row("", "", self.language.say(KEEPING))
        return table


def _bar(part: float) -> ProgressBar:
    return ProgressBar(total=1.0, completed=part, width=12, complete_style="blue", finished_style="green")


def exit_interrupted(language: Language = ENGLISH) -> NoReturn:
    """End this process at once, and a search that is still at work with it."""
    sys.stderr.write(language.say("stopped") + "\n")
    sys.stderr.flush()
    os._exit(INTERRUPTED)
