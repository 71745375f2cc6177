"""The inner loop of angled pricing: a depth-first walk over sets of pieces on one bar, on plain arrays.

It stops where it must ask what joins cost (an answer that its memory lacks) and goes on from the same place.
"""

from __future__ import annotations

from typing import Any

from solver.jit import compiled

Array = Any
DONE, ASKS, FULL = 0, 1, 2
# places in `state`
DEPTH, NEED, BEST, MADE, NODES, QUOTA, SKIPPED = 0, 1, 2, 3, 4, 5, 6


@compiled
def find_join(keys: Array, key: int) -> int:
    """Return where a key is in the memory, or the free place (as -1 - place) where it belongs."""
    mask = keys.shape[0] - 1
    place = (key * 2654435761 + (key >> 17)) & mask
    while keys[place] >= 0:
        if keys[place] == key:
            return int(place)
        place = (place + 1) & mask
    return int(-1 - place)


@compiled
def walk_bars(
    sizes: Array,
    worths: Array,
    doubled: Array,
    types: Array,
    uneven: Array,
    most: Array,
    table: Array,
    square: Array,
    weights: Array,
    keys: Array,
    joins: Array,
    rules: Array,
    prices: Array,
    frames: Array,
    taken: Array,
    by_type: Array,
    found: Array,
    gains: Array,
    state: Array,
    every: bool,
) -> int:
    """Walk on; return DONE, ASKS (the counts in `by_type` are not in memory) or FULL (nodes or rows ran out).

    After ASKS, and after FULL with NODES below 0, it goes on from the same place once `by_type` is less by the last kind.

    `rules`: doubled free room, doubled room where the clamp holds nothing, doubled room of two squares' join, steps of room.
    `prices`: cost and rent, credit for each nanometre of drop, the least drop kept, drop of a bar with no piece and no
    kerf; floats. With a quota in `state` each first piece has so many nodes, and
    SKIPPED tells that one had more. `frames[depth]`: next kind, kind taken, used, worth, doubled, odd, extent, grew.
    """
    free, short, square_join, room = rules[0], rules[1], rules[2], rules[3]
    kinds = sizes.shape[0]
    depth = state[DEPTH]
    while True:
        frame = frames[depth]
        kind = frame[0]
        advanced = False
        while kind < kinds:
            after = frame[2] + sizes[kind]
            odd = frame[5] ^ uneven[kind]
            if taken[kind] >= most[kind] or after > room or frame[3] + worths[kind] + table[kind, odd, after] < state[NEED]:
                kind += 1
                continue
            by_type[types[kind]] += 1
            key, extra = 0, 0
            for n in range(by_type.shape[0]):
                count = by_type[n]
                if square[n] and count > 1:
                    extra += (count - 1) * square_join
                    count = 1
                key += count * weights[n]
            place = find_join(keys, key)
            if place < 0:
                frame[0] = kind
                state[DEPTH] = depth
                return ASKS
            state[NODES] -= 1
            if state[NODES] < 0:
                if state[QUOTA] == 0 or depth == 0:
                    frame[0] = kind
                    state[DEPTH] = depth
                    return FULL
                by_type[types[kind]] -= 1
                while depth > 0:  # enough of this first piece: on to the next one
                    taken[frames[depth, 1]] -= 1
                    by_type[types[frames[depth, 1]]] -= 1
                    depth -= 1
                state[NODES], state[SKIPPED] = state[QUOTA], 1
                advanced = True
                break
            total = frame[4] + doubled[kind]
            extent = total + joins[place, 1] + extra
            if extent > short:
                extent = total + joins[place, 0] + extra
                if extent > free:
                    extent = -1
            if extent < 0:
                by_type[types[kind]] -= 1
                kind += 1
                continue
            frame[0] = kind + 1
            frame[7] = 1
            taken[kind] += 1
            below = frames[depth + 1]
            below[0], below[1], below[2], below[3] = kind, kind, after, frame[3] + worths[kind]
            below[4], below[5], below[6], below[7] = total, odd, extent, 0
            depth += 1
            advanced = True
            break
        if advanced:
            continue
        if depth == 0:
            state[DEPTH] = 0
            return DONE
        if not (every and frame[7] == 1 and prices[1] == 0.0):
            cost = prices[0]
            if prices[1] > 0.0:
                drop = prices[3] - frame[6] // 2
                if drop >= prices[2] and drop > 0:
                    cost -= prices[1] * drop
            gain = frame[3] - int(cost)
            state[BEST] = max(state[BEST], gain)
            if gain >= state[NEED]:
                row = state[MADE]
                if row >= found.shape[0]:
                    if every:
                        return FULL
                    row = row % found.shape[0]
                for n in range(kinds):
                    found[row, n] = taken[n]
                gains[row] = gain
                state[MADE] += 1
                if not every:
                    state[NEED] = gain + 1
        taken[frame[1]] -= 1
        by_type[types[frame[1]]] -= 1
        depth -= 1
