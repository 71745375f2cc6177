"""Which bundles share a bar: all that the fewest open bundles depend on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleGraph:
    """Bundles as bits; `near[b]` holds b and every bundle that shares a bar with it."""

    bundles: tuple[str, ...]
    neighbours: tuple[int, ...]

    @property
    def all_bundles(self) -> int:
        """All bundles as one mask."""
        return (1 << len(self.bundles)) - 1


def set_bits(mask: int) -> Iterator[int]:
    """Return the positions of the bits that are set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def bundle_graph(bars: Sequence[Sequence[str]]) -> BundleGraph:
    """Return the graph of bars given by their bundles; a bar within another and a bar repeated add nothing."""
    number: dict[str, int] = {}
    masks: dict[int, None] = {}
    for bar in bars:
        mask = 0
        for bundle in bar:
            mask |= 1 << number.setdefault(bundle, len(number))
        masks[mask] = None
    near = [1 << bundle for bundle in range(len(number))]
    for mask in masks:
        for member in set_bits(mask):
            near[member] |= mask
    return BundleGraph(bundles=tuple(number), neighbours=tuple(near))


def connected_components(graph: BundleGraph) -> list[int]:
    """Return the connected parts of the graph as masks; no bar has bundles of two parts."""
    left, parts = graph.all_bundles, []
    while left:
        part, edge = 0, left & -left
        while edge:
            part |= edge
            reach = 0
            for bundle in set_bits(edge):
                reach |= graph.neighbours[bundle]
            edge = reach & ~part
        parts.append(part)
        left &= ~part
    return parts
