"""Looking at a plan until it has ended, for the progress stream."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from typing import Any

from starlette.concurrency import run_in_threadpool

from service.contracts.plans import ENDED
from service.ports import Store
from service.usecases.ask.plans import plan_state
from solver.codec import encode

LOOK_EVERY_S = 0.25


async def changes(plan_id: str, *, store: Store) -> AsyncIterator[Any]:
    """Give a plan's state now, each later change of it, and last the one it ended with."""
    last: Any = None
    while True:
        state = await run_in_threadpool(plan_state, plan_id, store=store)
        now = encode(state)
        if now != last:
            yield now
            last = now
        if state.status in ENDED:
            return
        await asyncio.sleep(LOOK_EVERY_S)
