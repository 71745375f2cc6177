"""What happened to a released plan, in the plant's own words, and what the floor told of it so far."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Literal

from solver.domain.ids import BundleId, LoadId, PieceId
from solver.domain.material import Material, read_window_name
from solver.domain.timetable import Timetable
from solver.domain.work_ids import begun_with
from solver.errors import FaultCollector, FieldFault
from solver.field_limits import Description, ItemCount, Maximum, Minimum, TextPattern

Instant = Annotated[
    str,
    TextPattern(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)", "an instant such as 2031-05-05T06:00:00-06:00"
    ),
]
LONGEST_DOWN_S = 60 * 86_400


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineDown:
    """A machine that does not run from one instant to another."""

    machine: str
    start: Instant
    end: Instant


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialLate:
    """A material that is there only from an instant on."""

    material: Annotated[str, Description("a colour of coil, or what is laminated or slit, as the plan names it")]
    at: Instant


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRush:
    """An order that is wanted at the dock at another instant, or counts so much more than it did."""

    order: str
    due: Instant | None = None
    weight: Annotated[int, Minimum(1), Maximum(1_000), Description("how much each second of its lateness counts")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Disruptions:
    """All that happened: machines down, late material, orders in a hurry, pieces to make again.

    `at`: from when on work may be placed again; absent: now. `untold`: whether work that the floor tells of, that should be
    done by now and that nobody told, is not done.
    """

    down: Annotated[tuple[MachineDown, ...], ItemCount(0, 100)] = ()
    late: Annotated[tuple[MaterialLate, ...], ItemCount(0, 100)] = ()
    rush: Annotated[tuple[OrderRush, ...], ItemCount(0, 200)] = ()
    remake: Annotated[tuple[str, ...], ItemCount(0, 500)] = ()
    untold: Literal["not_done", "as_planned"] = "not_done"
    at: Instant | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorReport:
    """What the floor told until now, each with when, in seconds from the plan's start; before it: 0."""

    cut: Mapping[PieceId, int]  # scrapped ones too: their bar is cut
    scrapped: Collection[PieceId]  # and not cut again since
    bundled: Mapping[BundleId, int]
    loaded: Mapping[BundleId, int]
    shipped: Mapping[LoadId, int]


NOTHING_REPORTED = FloorReport(cut={}, scrapped=(), bundled={}, loaded={}, shipped={})


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """What a plan knows, to be named in what happened."""

    machines: Collection[str]
    materials: Collection[str]
    orders: Collection[str]
    pieces: Collection[str]


def material_jobs(table: Timetable) -> dict[str, str]:
    """Return, by job of a plan's timetable that begins with material, which: what is laminated or slit."""
    return {job.id: material for job in table.job.jobs if (material := begun_with(job.id)) is not None}


def materials_that_can_be_late(table: Timetable) -> tuple[str, ...]:
    """Return what of a plan can come late: what is laminated or slit, and the colours of it."""
    found: set[str] = set()
    for name in material_jobs(table).values():
        found |= {name, *(colour for colour in Material.parse(read_window_name(name)[0]).colours if colour)}
    return tuple(sorted(found))


def seconds_after_epoch(epoch: str, instant: str) -> int:
    """Return the whole seconds from a plan's start to an instant; negative before it. Raises ValueError for no instant."""
    return int((datetime.fromisoformat(instant) - datetime.fromisoformat(epoch)).total_seconds())


def disruption_faults(happened: Disruptions, known: Vocabulary, *, epoch: str, now_s: int) -> list[FieldFault]:
    """Return every fault of what is said to have happened to a plan that starts at `epoch` and is at `now_s`."""
    faults = FaultCollector()
    if not (happened.down or happened.late or happened.rush or happened.remake) and happened.untold == "as_planned":
        faults.add(
            "down", "nothing happened", "a machine that is down, late material, an order in a hurry, or a piece to remake"
        )
    for n, down in enumerate(happened.down):
        _named(f"down[{n}].machine", down.machine, "machine", known.machines, faults)
        start, end = _at(f"down[{n}].start", epoch, down.start, faults), _at(f"down[{n}].end", epoch, down.end, faults)
        if start is None or end is None:
            continue
        if end <= start:
            faults.add(f"down[{n}].end", f"{down.end} is not after {down.start}", "an end after its start")
        elif end <= now_s:
            faults.add(f"down[{n}].end", f"{down.end} is over", "an end that is still to come")
        elif end - start > LONGEST_DOWN_S:
            faults.add(f"down[{n}].end", "is more than 60 days after its start", "an earlier end; more once it is known")
    for n, late in enumerate(happened.late):
        _named(f"late[{n}].material", late.material, "material", known.materials, faults)
        at = _at(f"late[{n}].at", epoch, late.at, faults)
        if at is not None and at <= now_s:
            faults.add(f"late[{n}].at", f"{late.at} is over", "when it will be there")
    for n, rush in enumerate(happened.rush):
        _named(f"rush[{n}].order", rush.order, "order", known.orders, faults)
        if rush.due is None and rush.weight is None:
            faults.add(f"rush[{n}]", "says neither when it is wanted nor how much it counts", "due, weight, or both")
        if rush.due is not None:
            _at(f"rush[{n}].due", epoch, rush.due, faults)
    for n, piece in enumerate(happened.remake):
        _named(f"remake[{n}]", piece, "piece", known.pieces, faults)
        if piece in happened.remake[:n]:
            faults.add(f"remake[{n}]", f"{piece!r} is named twice", "each piece once")
    return faults.found


def _named(path: str, name: str, what: str, known: Collection[str], faults: FaultCollector) -> None:
    if name not in known:
        some = ", ".join(sorted(known)[:8])
        faults.add(
            path, f"{name[:100]!r} is no {what} of this plan", f"one such as {some}" if some else f"the plan has no {what}"
        )


def _at(path: str, epoch: str, instant: str, faults: FaultCollector) -> int | None:
    try:
        return seconds_after_epoch(epoch, instant)
    except ValueError:
        faults.add(path, f"{instant!r} is no date", "an instant such as 2031-05-05T06:00:00-06:00")
        return None
