"""Takeoffs proved in a process of their own while the plan's search goes on."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from multiprocessing import get_context

from service.parent import serve_parent
from solver.takeoff_proof import Apart, Work, lazy_takeoff_proofs, prove_takeoff

ALONE = 8  # takeoffs up to which they are proved before another process has begun
AT_ONCE = 4


@contextmanager
def proving_in_process() -> Iterator[Apart]:
    """Give what proves takeoffs beside other work where there are many and another core; the process ends with the block."""
    pools: list[ProcessPoolExecutor] = []

    def apart(work: Sequence[Work]) -> Callable[[], list[tuple[bool, str]]]:
        if len(work) <= ALONE or (os.cpu_count() or 1) < 2:
            return lazy_takeoff_proofs(work)
        pool = ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=serve_parent, initargs=(os.getpid(),))
        pools.append(pool)
        found = pool.map(prove_takeoff, *zip(*work, strict=True), chunksize=AT_ONCE)

        def results() -> list[tuple[bool, str]]:
            try:
                return list(found)
            except BrokenProcessPool:  # killed, for want of memory say: the proof is made all the same
                return lazy_takeoff_proofs(work)()

        return results

    try:
        yield apart
    finally:
        for pool in pools:
            pool.shutdown(wait=False, cancel_futures=True)
