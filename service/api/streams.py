"""Looking at a job until it has ended, and at the book as it grows, for their streams."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool

from service.contracts.jobs import JobState
from service.contracts.plans import ENDED
from service.ports import Store
from service.usecases.ask.events import list_events
from solver.codec import encode

LOOK_EVERY_S = 0.25
A_TIME = 200  # events read in one go


async def stream_changes(look: Callable[[], JobState]) -> AsyncIterator[Any]:
    """Give a state now, each later change of it, and last the one it ended with."""
    last: Any = None
    while True:
        state = await run_in_threadpool(look)
        now = encode(state)
        if now != last:
            yield now
            last = now
        if state.status in ENDED:
            return
        await asyncio.sleep(LOOK_EVERY_S)


async def stream_events_after(after: int, *, store: Store) -> AsyncIterator[tuple[int, Any]]:
    """Give each event after a cursor with its own, in order, then each as it comes; never ends by itself."""
    while True:
        found = await run_in_threadpool(list_events, after, A_TIME, store=store)
        for event in found.events:
            yield event.seq, encode(event)
        after = found.cursor
        if not found.more:
            await asyncio.sleep(LOOK_EVERY_S)
