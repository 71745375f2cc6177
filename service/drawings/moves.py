"""What a new timetable changes, drawn: each machine has a lane for what is, and below it a lane for where it was.

What stays is grey. What moved is a box with a sign of its own shape (left, right, up and down, cross), its old place a
thin dashed frame. Boxes too narrow for a sign share one with their neighbours that moved the same way.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from service.drawings.chart import merge_close_parts
from service.drawings.chart_frame import ChartFrame, ChartRow
from service.drawings.lettering import text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import Drawing, Hatch, Ink, Line, Polygon, Shape, Style, Text
from service.drawings.signs import SIGN_PT, move_sign, sign_legend
from solver.documents.lateness_words import short_spoken_name, step_words, word
from solver.documents.moves import KINDS, MoveKind, OperationMove, compare_timetables, move_kind_words, rebase_to_epoch
from solver.documents.timetable import working_intervals
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import ENGLISH, Language

ROW_PT, NOW_PT, WAS_PT, LOW_PT = 42.0, 17.0, 11.0, 3.0  # a row, its two lanes, what is left free below them
_Box = tuple[float, float]  # left and right, points


def moves_drawing(
    old: Timetable,
    new: Timetable,
    *,
    time_zone: str,
    from_s: int,
    to_s: int,
    now_s: int | None = None,
    width_pt: float = 920.0,
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return what a new timetable changes of the old one, from `from_s` to `to_s` (seconds from the new one's epoch).

    Work is matched by id. Days are those of `time_zone`. Hours that are closed now and were open are hatched.
    """
    old, change = rebase_to_epoch(old, new), compare_timetables(old, new)
    machines = [machine.id for machine in new.job.machines] or [machine.id for machine in old.job.machines]
    machines += sorted({one.machine for one in (*old.operations, *new.operations)} - set(machines))
    return draw_moves(
        old, new, change.moves, machines=machines, moved=len(change.moves), time_zone=time_zone, from_s=from_s, to_s=to_s,
        now_s=now_s, width_pt=width_pt, language=language, size=size,
    )  # fmt: skip


def draw_moves(
    old: Timetable,
    new: Timetable,
    moves: Sequence[OperationMove],
    *,
    machines: Sequence[str],
    moved: int,
    called_before: Callable[[str], str] = str,
    called: Callable[[str], str] = str,
    time_zone: str,
    from_s: int,
    to_s: int,
    now_s: int | None = None,
    width_pt: float = 920.0,
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return the picture of a time for which the moves are known: those of it, and the new operations in it, are enough.

    Of `old`, told on the clock of `new`, the machines' hours are looked at alone. `moved`: how many moves there are in all.
    `called`: what people call the thing that an operation is about, in the new plan and in the one before.
    """
    rows = [ChartRow(name, name, from_s, max(to_s, from_s + 60)) for name in machines]
    chart = _Moves(old, new, moves, rows, moved=moved, width_pt=width_pt, size=size, language=language)
    chart.called, chart.called_before = called, called_before
    chart.hours(time_zone, days=True)
    chart.work()
    if now_s is not None and from_s <= now_s <= to_s:
        chart.now(now_s)
    return chart.done()


class _Moves(ChartFrame):
    def __init__(
        self,
        old: Timetable,
        new: Timetable,
        moves: Sequence[OperationMove],
        rows: Sequence[ChartRow],
        *,
        moved: int,
        width_pt: float,
        size: float,
        language: Language,
    ) -> None:
        title = language.say("{machines} machines, {operations} operations moved", machines=len(rows), operations=moved)
        super().__init__(new, rows, title, width_pt=width_pt, size=size, language=language, row_pt=ROW_PT)
        self.old, self.moves = old, moves
        self.called: Callable[[str], str] = str
        self.called_before: Callable[[str], str] = str
        self.narrow, self.gap = self.work_spacing(
            sum(op.end_s > self.from_s and op.start_s < self.to_s for op in new.operations)
        )
        self.kinds: dict[str, MoveKind] = {move.work.id: move.kind for move in moves}
        self.was_closed, self.now_closed = self.closed_hours_by_machine(old), self.closed_hours_by_machine(new)
        span = self.from_s, self.to_s
        self.shut = {name: tuple(newly_closed_times(old, new, name, between=span)) for name in self.closed}

    def work(self) -> None:
        """Draw the ground, what was, what is, and the signs of what moved."""
        self.draw_ground()
        by_machine: dict[str, list[PlannedOperation]] = {}
        for op in self.table.operations:
            by_machine.setdefault(op.machine, []).append(op)
        was_on: dict[str, list[PlannedOperation]] = {}
        for move in self.moves:
            if move.old is not None:
                was_on.setdefault(move.old.machine, []).append(move.old)
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            for low, high in self.shut.get(row.machine, ()):
                if low < row.high and high > row.low:
                    corners = box_corners(self.x(row, low), bottom, self.x(row, high), bottom + ROW_PT)
                    self.board.add(Hatch(points=corners, gap_pt=7.0))
            gone: list[tuple[MoveKind, _Box]] = []
            before = sorted((one for one in was_on.get(row.machine, ()) if row.holds(one)), key=_by_time)
            for some in self._crowds(before, row, lambda op: self.kinds[op.id] == "gone"):
                part = self._place(some, row, bottom + LOW_PT, WAS_PT, "was")
                gone += [("gone", part)] if self.kinds[some[0].id] == "gone" else []
            moved: list[tuple[MoveKind, _Box]] = []
            here = sorted((one for one in by_machine.get(row.machine, ()) if row.holds(one)), key=_by_time)
            for some in self._crowds(here, row, lambda op: self.kinds.get(op.id)):
                kind = self.kinds.get(some[0].id)
                part = self._place(some, row, bottom + LOW_PT + WAS_PT + 2, NOW_PT, kind or "quiet")
                moved += [] if kind is None else [(kind, part)]
            self._signs(moved, bottom + LOW_PT + WAS_PT + NOW_PT + 2)
            self._signs(gone, bottom + LOW_PT + WAS_PT - 2)
        self.board.add(*sign_legend(self._named(), -self.names, self.room, self.size))

    def _crowds(
        self, work: Sequence[PlannedOperation], row: ChartRow, of: Callable[[PlannedOperation], object]
    ) -> Iterator[list[PlannedOperation]]:
        """Give work in order of time: what is too narrow to be told apart, and nearer than can be seen, of a kind together."""
        crowd: list[PlannedOperation] = []
        end = 0.0
        for op in work:
            left, right = self._span(op, row)
            narrow = right - left < self.narrow
            if crowd and (not narrow or of(op) != of(crowd[0]) or left - end >= self.gap):
                yield crowd
                crowd, end = [], 0.0
            if narrow:
                crowd.append(op)
                end = max(end, right)
            else:
                yield [op]
        if crowd:
            yield crowd

    def _span(self, op: PlannedOperation, row: ChartRow) -> _Box:
        left = self.x(row, op.start_s)
        return left, max(self.x(row, op.end_s), left + 0.8)

    def _place(self, some: Sequence[PlannedOperation], row: ChartRow, bottom: float, high: float, what: str) -> _Box:
        """Draw an operation in its lane, in boxes where it runs and a thin line through its pauses, lettered where that fits.

        Several are drawn as one box. Returns its longest box.
        """
        op = some[0]
        if len(some) == 1:
            hours = (self.was_closed if what == "was" else self.now_closed).get(op.machine, ())
            seen = ((a, b) for a, b in working_intervals(op, hours) if b > row.low and a < row.high)
            parts = merge_close_parts((self.x(row, a), self.x(row, b)) for a, b in seen) or [self._span(op, row)]
        else:
            parts = [(self.x(row, op.start_s), max(self._span(one, row)[1] for one in some))]
        style: Style = "hidden" if what == "was" else "quiet" if what == "quiet" else "outline"
        middle = bottom + high / 2
        pause: Style = "hidden" if what == "was" else "thin"
        shapes: list[Shape] = [Line(a=(a[1], middle), b=(b[0], middle), style=pause) for a, b in pairwise(parts)]
        for left, right in parts:
            corners = box_corners(left, bottom, max(right, left + 0.8), bottom + high)
            narrow = style == "outline" and right - left < 2
            shapes.append(Polygon(points=corners, style="solid" if narrow else style))
        words = move_kind_words(what, self.language)
        called = self.called_before if what == "was" else self.called
        told = [f"{step_words(one.step, self.language)} {called(one.about)}" for one in (op, *some[1:][-1:])]
        count = f"{len(some)}: " if len(some) > 1 else ""
        title = f"{count}{', '.join(told)}: {words}"
        self.board.group(f"{what} {op.id}" if what == "was" else op.id, shapes, title=title)
        longest = max(parts, key=lambda part: part[1] - part[0])
        if len(some) == 1:
            self._letter(called(op.about), longest, bottom, high, what)
        return longest

    def _letter(self, about: str, part: _Box, bottom: float, high: float, what: str) -> None:
        """Letter a box that has room for its name; the old place only where nothing else is told there."""
        size = self.size if what != "was" else min(self.size, 9.0)
        ink: Ink = "soft" if what == "was" else "ink"
        for text in (about, short_spoken_name(about)):
            if text_width(text) * size <= part[1] - part[0] - 8:
                at = ((part[0] + part[1]) / 2, bottom + high / 2 - 0.36 * size)
                self.board.add(Text(at=at, text=text, size=size, ink=ink))
                return

    def _signs(self, found: Iterable[tuple[MoveKind, _Box]], bottom: float) -> None:
        """Set a sign above each box, one for neighbours of a kind that have no room for their own, never over another."""
        ends = float("-inf")
        for kind, (left, right) in _runs(found):
            at = max((left + right) / 2, ends + SIGN_PT / 2 + 1)
            self.board.add(*move_sign(kind, at, bottom + SIGN_PT / 2 + 0.5))
            ends = at + SIGN_PT / 2

    def _named(self) -> list[tuple[str, str]]:
        """The signs that this picture has, with their words."""
        seen = {move.kind for move in self.moves for op in (move.old, move.new) if op and any(r.holds(op) for r in self.rows)}
        keys = ["closed"] if any(self.closed.values()) else []
        keys += ["shut"] if any(self.shut.values()) else []
        keys += ["quiet", *(kind for kind in KINDS if kind in seen)]
        keys += ["was"] if any(move.old for move in self.moves) else []
        return [(key, (word if key == "closed" else move_kind_words)(key, self.language)) for key in keys]


def _by_time(op: PlannedOperation) -> tuple[int, str]:
    return op.start_s, op.id


def _runs(found: Iterable[tuple[MoveKind, _Box]]) -> Iterator[tuple[MoveKind, _Box]]:
    """Give boxes from left to right; those of one kind that follow closer than a sign is wide as one."""
    kept: tuple[MoveKind, _Box] | None = None
    for kind, (left, right) in found:
        if kept is not None and kept[0] == kind and (left + right) / 2 - (kept[1][0] + kept[1][1]) / 2 < SIGN_PT + 3:
            kept = kind, (kept[1][0], max(right, kept[1][1]))
            continue
        if kept is not None:
            yield kept
        kept = kind, (left, right)
    if kept is not None:
        yield kept


def newly_closed_times(
    old: Timetable, new: Timetable, machine: str, *, between: tuple[float, float] = (-math.inf, math.inf)
) -> Iterator[tuple[int, int]]:
    """Give the times in which a machine is closed in the new timetable and was open in the old one, on the same clock.

    Of the new timetable's closed hours those that lie in part `between` two seconds.

    Only as far as the old calendar tells: behind its last closed hours nothing is known of it.
    """
    was = next((sorted(one.closed) for one in old.job.machines if one.id == machine), [])
    now = next((sorted(one.closed) for one in new.job.machines if one.id == machine), [])
    known = was[-1][1] if was else max((high for _, high in now), default=0)
    for low, high in now:
        if high <= between[0] or low >= between[1]:
            continue
        at, end = low, min(high, known)
        for a, b in was:
            if b <= at or a >= end:
                continue
            if a > at:
                yield at, a
            at = max(at, b)
        if at < end:
            yield at, end
