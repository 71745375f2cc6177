"""Looking at a job until it has ended, for the progress stream."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable
from typing import Any

from starlette.concurrency import run_in_threadpool

from service.contracts.plans import ENDED, PlanState
from service.contracts.promises import PromiseState
from solver.codec import encode

LOOK_EVERY_S = 0.25


async def changes(look: Callable[[], PlanState | PromiseState]) -> AsyncIterator[Any]:
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
