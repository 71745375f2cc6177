"""Holds whoever writes to the store to it that nothing is thought while others wait: no plan decoded, nothing solved.

While a transaction that writes is open every call in its thread is looked at. Forbidden are the stored form and the codec,
for all but what is as small as a job's own row, the reading of orders, and every stage of the solver.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

from service.contracts.faults import Fault
from service.contracts.making import Making
from service.contracts.plans import PlanManifest, PlanWanted, PromiseWanted, ReplanWanted
from service.store.unit_of_work import SqlStore, SqlTransaction
from solver.domain.book import BLANK, Question
from solver.domain.event import KINDS

ROOT = Path(__file__).resolve().parents[1]
BOOK = (*dict.fromkeys(KINDS.values()), *BLANK.values(), Question)  # an event, and where the things are that it tells of
SMALL = (PlanWanted, PromiseWanted, ReplanWanted, Making, Fault, PlanManifest, *BOOK)
DOORS = {
    str(ROOT / "solver" / "codec.py"): {"decode": "kind", "encode": "value"},
    str(ROOT / "service" / "stored_form.py"): {
        "from_stored_text": "kind",
        "stored_to_public_json": "kind",
        "to_stored_text": "value",
    },
}
THINKING = tuple(
    str(ROOT / "solver" / room) + "/"
    for room in (
        *("reading", "takeoff", "nesting", "sequencing", "slitting", "scheduling", "bundling", "loading", "replanning"),
        "documents",
    )
)
WRITING = SqlStore.writing


def trespass(frame: FrameType) -> str | None:
    """Return what a call does that no writer may, or None."""
    code = frame.f_code
    argument = DOORS.get(code.co_filename, {}).get(code.co_name)
    if argument is not None:
        told = frame.f_locals[argument]
        kind = told if isinstance(told, type) else type(told)
        return None if kind in SMALL else f"{code.co_name} of {kind.__name__}"
    if code.co_filename.startswith(THINKING) and code.co_name != "<module>":
        return f"{Path(code.co_filename).relative_to(ROOT)}: {code.co_name}"
    return None


def watched(found: list[str]) -> Any:
    """Return `SqlStore.writing` that notes in `found` what is thought while it is open."""

    def look(frame: FrameType, happened: str, _: Any) -> None:
        told = trespass(frame) if happened == "call" else None
        if told is not None:
            found.append(told)

    @contextmanager
    def writing(self: SqlStore) -> Iterator[SqlTransaction]:
        before = sys.getprofile()
        with WRITING(self) as tx:
            sys.setprofile(look)
            try:
                yield tx
            finally:
                sys.setprofile(before)

    return writing
