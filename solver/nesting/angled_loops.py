"""The inner loop of angled pricing: a depth-first search over sets of pieces on one bar, on plain arrays.

It stops where it must ask what joins cost (an answer that its cache lacks) and goes on from the same place. Its arrays come
in named tuples, which compiled code takes apart; what changes is in arrays, as such code can not write to a tuple.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from solver.jit import jit_compiled

Array = Any
DONE, ASKS, FULL, MOVED = 0, 1, 2, 3
# places in `Progress.state`
DEPTH, NEED, BEST, COUNT, NODES, QUOTA, SKIPPED = 0, 1, 2, 3, 4, 5, 6
# places in a row of `Progress.frames`: next kind, kind taken, steps used, sum of duals, doubled length, whether the number of
# sloped ends is odd, doubled extent, whether a piece was added to it
NEXT, TAKEN, USED, VALUE, DOUBLED, ODD, EXTENT, EXTENDED = 0, 1, 2, 3, 4, 5, 6, 7


class Kinds(NamedTuple):
    """The kinds in the order in which they are tried, an array each; `most`: how many of each a bar may hold."""

    sizes: Array
    duals: Array
    doubled: Array
    types: Array
    uneven: Array
    most: Array


class JoinTable(NamedTuple):
    """What joins cost by the hashed counts of their types; square pieces of a type count once in it."""

    square: Array
    weights: Array
    keys: Array
    answers: Array


class BarTerms(NamedTuple):
    """Doubled free room, that where the clamp holds nothing, that of two squares' join, steps of room; cost with its rent,
    credit for each nanometre of drop, the least drop kept, the drop of a bar with no piece and no kerf."""

    free: int
    clamped: int
    square_join: int
    room: int
    cost: float
    credit: float
    least_drop: float
    longest_drop: float


class Progress(NamedTuple):
    """Where the search is, and what it found: `frames` by depth, pieces taken by kind and type, patterns and their gains."""

    frames: Array
    taken: Array
    by_type: Array
    found: Array
    gains: Array
    state: Array


@jit_compiled
def find_join(keys: Array, key: int) -> int:
    """Return where a key is in the table, or the free place (as -1 - place) where it belongs."""
    mask = keys.shape[0] - 1
    place = (key * 2654435761 + (key >> 17)) & mask
    while keys[place] >= 0:
        if keys[place] == key:
            return int(place)
        place = (place + 1) & mask
    return int(-1 - place)


@jit_compiled
def search_patterns(kinds: Kinds, table: Array, joins: JoinTable, bar: BarTerms, progress: Progress, every: bool) -> int:
    """Search on; return DONE, ASKS (the counts in `by_type` are not in the table) or FULL (nodes or rows ran out).

    `table`: the most still to come. After ASKS, and after FULL with NODES below 0, it goes on from the same place once
    `by_type` is less by the last kind. With a quota each first piece has so many nodes, and SKIPPED tells that one had more.
    """
    state = progress.state
    while True:
        outcome = add_piece(kinds, table, joins, bar, progress)
        if outcome == MOVED:
            continue
        if outcome != DONE or state[DEPTH] == 0:
            return outcome
        frame = progress.frames[state[DEPTH]]
        if not (every and frame[EXTENDED] == 1 and bar.credit == 0.0) and not note_pattern(frame, bar, progress, every):
            return FULL
        remove_piece(kinds, progress)


@jit_compiled
def add_piece(kinds: Kinds, table: Array, joins: JoinTable, bar: BarTerms, progress: Progress) -> int:
    """Add the next piece that fits and may still reach NEED; return MOVED, DONE (none is left here), ASKS or FULL."""
    state, by_type = progress.state, progress.by_type
    depth = state[DEPTH]
    frame = progress.frames[depth]
    for kind in range(frame[NEXT], kinds.sizes.shape[0]):
        used = frame[USED] + kinds.sizes[kind]
        value = frame[VALUE] + kinds.duals[kind]
        odd = frame[ODD] ^ kinds.uneven[kind]
        if progress.taken[kind] >= kinds.most[kind] or used > bar.room or value + table[kind, odd, used] < state[NEED]:
            continue
        by_type[kinds.types[kind]] += 1
        key, extra = join_key(joins, by_type, bar.square_join)
        place = find_join(joins.keys, key)
        if place < 0:
            frame[NEXT] = kind
            return ASKS
        state[NODES] -= 1
        if state[NODES] < 0:
            if state[QUOTA] == 0 or depth == 0:
                frame[NEXT] = kind
                return FULL
            by_type[kinds.types[kind]] -= 1
            while state[DEPTH] > 0:  # enough of this first piece: on to the next one
                remove_piece(kinds, progress)
            state[NODES], state[SKIPPED] = state[QUOTA], 1
            return MOVED
        doubled = frame[DOUBLED] + kinds.doubled[kind]
        extent = doubled + joins.answers[place, 1] + extra
        if extent > bar.clamped:
            extent = doubled + joins.answers[place, 0] + extra
            if extent > bar.free:
                by_type[kinds.types[kind]] -= 1
                continue
        frame[NEXT], frame[EXTENDED] = kind + 1, 1
        progress.taken[kind] += 1
        below = progress.frames[depth + 1]
        below[NEXT], below[TAKEN], below[USED], below[VALUE] = kind, kind, used, value
        below[DOUBLED], below[ODD], below[EXTENT], below[EXTENDED] = doubled, odd, extent, 0
        state[DEPTH] = depth + 1
        return MOVED
    return DONE


@jit_compiled
def join_key(joins: JoinTable, by_type: Array, square_join: int) -> tuple[int, int]:
    """Return the key of counts by type in the table, and the doubled room of joins between squares that it leaves out."""
    key, extra = 0, 0
    for n in range(by_type.shape[0]):
        count = by_type[n]
        if joins.square[n] and count > 1:
            extra += (count - 1) * square_join
            count = 1
        key += count * joins.weights[n]
    return key, extra


@jit_compiled
def remove_piece(kinds: Kinds, progress: Progress) -> None:
    """Take the last piece off the bar again."""
    kind = progress.frames[progress.state[DEPTH], TAKEN]
    progress.taken[kind] -= 1
    progress.by_type[kinds.types[kind]] -= 1
    progress.state[DEPTH] -= 1


@jit_compiled
def note_pattern(frame: Array, bar: BarTerms, progress: Progress, every: bool) -> bool:
    """Note the pieces on the bar as a pattern where they gain enough; return whether there was a row for it.

    Without `every` the rows are used again, and only what gains more than all before it is noted.
    """
    state = progress.state
    cost = bar.cost
    if bar.credit > 0.0:
        drop = bar.longest_drop - frame[EXTENT] // 2
        if drop >= bar.least_drop and drop > 0:
            cost -= bar.credit * drop
    gain = frame[VALUE] - int(cost)
    state[BEST] = max(state[BEST], gain)
    if gain < state[NEED]:
        return True
    row = state[COUNT]
    if row >= progress.found.shape[0]:
        if every:
            return False
        row = row % progress.found.shape[0]
    for kind in range(progress.taken.shape[0]):
        progress.found[row, kind] = progress.taken[kind]
    progress.gains[row] = gain
    state[COUNT] += 1
    if not every:
        state[NEED] = gain + 1
    return True
