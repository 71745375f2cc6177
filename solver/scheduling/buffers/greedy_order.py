"""An order of jobs by a greedy rule: what fills no room goes at once, else the first of what still finds room."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from heapq import heappop, heappush

from solver.domain.timetable import Job
from solver.scheduling.precedence import successors_by_job

Counts = tuple[int, ...]  # by room
FAR_AHEAD = 2**40  # ranks: all jobs


class GreedyOrder:
    """Jobs with what they wait for and by how much each fills the rooms, to be ordered for rooms of any size."""

    def __init__(self, jobs: Sequence[Job], net: Mapping[str, Counts]) -> None:
        """`net`: by how much each job fills each room once it is done."""
        self.net = net
        self.waits = {job.id: len(set(job.after)) for job in jobs}
        self.followers = successors_by_job(jobs)

    def order(self, sizes: Counts, there: Counts, rank: Mapping[str, int], ahead: int = FAR_AHEAD) -> list[str]:
        """Return the jobs in order: where nothing finds room, what is least too much; then by rank.

        `ahead`: how many ranks beyond the first that could go others may go before it.

        Jobs that fill the rooms by the same are one heap: only the first of each can be next.
        """
        left, now, made = dict(self.waits), list(there), list[str]()
        free: list[tuple[int, str]] = []
        heaps: dict[Counts, list[tuple[int, str]]] = {}

        def ready(name: str) -> None:
            net = self.net[name]
            heap = heaps.setdefault(net, []) if any(count > 0 for count in net) else free
            heappush(heap, (rank[name], name))

        def excess(net: Counts) -> int:
            return sum(max(0, a + b - size) for a, b, size in zip(now, net, sizes, strict=True) if b > 0)

        for name, count in left.items():
            if not count:
                ready(name)
        while free or heaps:
            if free:
                name = heappop(free)[1]
            else:
                last = min(heap[0][0] for heap in heaps.values()) + ahead
                net = min(
                    (one for one, heap in heaps.items() if heap[0][0] <= last), key=lambda one: (excess(one), heaps[one][0])
                )
                name = heappop(heaps[net])[1]
                if not heaps[net]:
                    del heaps[net]
            made.append(name)
            now = [a + b for a, b in zip(now, self.net[name], strict=True)]
            for other in self.followers.get(name, ()):
                left[other] -= 1
                if not left[other]:
                    ready(other)
        return made
