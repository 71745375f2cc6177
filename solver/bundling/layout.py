"""Where each piece of a stack lies, where the timbers and the forks go, and where the centre of mass is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from solver.bundling.columns import column_height_nm, compact_columns
from solver.bundling.rules import foam_capacity_g, timber_inset_nm, timbers_needed
from solver.domain.bundle import Bundle, BundleLimits, Lay, LooseItem, StackPiece
from solver.domain.ids import BundleId, GroupId
from solver.units import Grams, Nm

SPREADER_NOTE = "longer than two forks handle: lift with a spreader by a qualified rigger, follow local rules"
HANDLING_NOTE = "skins protected between pieces; wear gloves, edges are sharp; cut no band under a lifted bundle"
START_NOTE = "start box: off the truck first, open before the first piece stands; count it against the list"


def lay_out_panel_bundle(bottom_up: Sequence[StackPiece], limits: BundleLimits) -> Bundle:
    """Return a stack of panels laid out: feet flush where that is steady, else each piece centred on the longest."""
    starts = _flush(bottom_up, limits)
    if starts is None:
        longest = max(piece.length_nm for piece in bottom_up)
        starts = [(longest - piece.length_nm) // 2 for piece in bottom_up]
    width = max(piece.width_nm for piece in bottom_up)
    lays, up = [], 0
    for piece, start in zip(bottom_up, starts, strict=True):
        across = (width - piece.width_nm) // 2
        lays.append(Lay(piece=piece.id, at_nm=Nm(start), across_nm=Nm(across), up_nm=Nm(up)))
        up += piece.thickness_nm
    bottom, top = bottom_up[0], bottom_up[-1]
    weight = sum(piece.weight_g for piece in bottom_up)
    count = timbers_needed(weight, bottom, limits) or 0
    timbers = dunnage_timber_positions(bottom.length_nm, count, limits)
    timbers = tuple(Nm(place + lays[0].at_nm) for place in timbers)
    may_carry = max(0, foam_capacity_g(count, bottom, limits) - weight) if top.carries else 0
    return _bundle("panels", bottom_up, lays, timbers, may_carry, up, limits)


def _flush(bottom_up: Sequence[StackPiece], limits: BundleLimits) -> list[int] | None:
    """Return all feet at one line if no head hangs over too far and all above each piece balances on it, else None."""
    weight = moment_twice = 0
    for place in range(len(bottom_up) - 1, 0, -1):
        upper, lower = bottom_up[place], bottom_up[place - 1]
        weight += upper.weight_g
        moment_twice += upper.weight_g * upper.length_nm
        reach = lower.length_nm if place > 1 else lower.length_nm - timber_inset_nm(lower.length_nm, limits)
        if upper.length_nm - lower.length_nm > limits.overhang_nm or moment_twice > 2 * weight * reach:
            return None
    return [0] * len(bottom_up)


def dunnage_timber_positions(length_nm: int, count: int, limits: BundleLimits) -> tuple[Nm, ...]:
    """Return the middles of `count` timbers under a piece, evenly between the insets of both ends."""
    if count <= 1:
        return (Nm(length_nm // 2),) * count
    first = timber_inset_nm(length_nm, limits)
    span = length_nm - 2 * first
    return tuple(Nm(first + span * place // (count - 1)) for place in range(count))


def lay_out_trim_bundle(pieces: Sequence[StackPiece], limits: BundleLimits) -> Bundle:
    """Return trims in columns side by side, feet flush; bottom first means last to stand first."""
    columns = compact_columns(pieces, limits)
    laid: list[tuple[StackPiece, Lay]] = []
    across = 0
    for column in columns:
        up = 0
        for piece in reversed(column):
            laid.append((piece, Lay(piece=piece.id, across_nm=Nm(across), up_nm=Nm(up))))
            up += piece.thickness_nm
        across += column[-1].width_nm
    laid.sort(key=lambda pair: -pair[0].stands)
    timbers = _under_each([column[-1].length_nm for column in columns], limits)
    bottom_up, lays = [piece for piece, _ in laid], [lay for _, lay in laid]
    return _bundle("trim", bottom_up, lays, timbers, 0, max(map(column_height_nm, columns)), limits)


def _under_each(lengths_nm: Sequence[int], limits: BundleLimits) -> tuple[Nm, ...]:
    """Return timbers as the longest asks for, and more where a shorter piece on them would not lie on one at either side."""
    longest, apart = max(lengths_nm), limits.dunnage_width_nm
    span = longest - 2 * timber_inset_nm(longest, limits)
    made: list[int] = list(dunnage_timber_positions(longest, max(2, -(-span // limits.dunnage_every_nm) + 1), limits))
    for length in sorted(set(lengths_nm)):
        inset = timber_inset_nm(length, limits)
        for start, end, wanted, step in ((0, length // 2, inset, -apart), (-(-length // 2), length, length - inset, apart)):
            if any(start <= place <= end for place in made):
                continue
            near = [place for place in made if abs(place - wanted) < apart]
            places = [wanted] if not near else [near[0] + step, near[0] - step]
            made += [place for place in places if start <= place <= end][:1]
    return tuple(Nm(place) for place in sorted(made))


def pack_small_parts_box(pieces: Sequence[StackPiece], limits: BundleLimits) -> Bundle:
    """Return a box of small parts; places inside a box are not planned."""
    made = _box(sum(piece.weight_g for piece in pieces), limits)
    return replace(
        made,
        pieces=tuple(Lay(piece=piece.id) for piece in sorted(pieces, key=lambda piece: -piece.stands)),
        first_stands=min(piece.stands for piece in pieces),
        order=pieces[0].order,
        groups=_groups(pieces),
        delivery=pieces[0].delivery,
        notes=(f"box of {len(pieces)} loose parts: count them against the list",),
    )


def pack_start_box(items: Sequence[LooseItem], limits: BundleLimits) -> Bundle:
    """Return a start box: hardware that the crew opens before the first piece stands."""
    made = _box(sum(item.weight_g for item in items), limits)
    return replace(made, items=tuple(items), order=items[0].order, delivery=items[0].delivery, notes=(START_NOTE,))


def _box(inside_g: int, limits: BundleLimits) -> Bundle:
    return Bundle(
        id=BundleId("-"),
        kind="box",
        pieces=(),
        first_stands=0,
        length_nm=limits.box_length_nm,
        width_nm=limits.box_width_nm,
        height_nm=Nm(limits.box_height_nm + limits.dunnage_nm),
        weight_g=Grams(inside_g + limits.box_tare_g),
        dunnage_nm=dunnage_timber_positions(limits.box_length_nm, 2, limits),
        centre_nm=Nm(limits.box_length_nm // 2),
        centre_across_nm=Nm(limits.box_width_nm // 2),
        centre_up_nm=Nm(limits.dunnage_nm + limits.box_height_nm // 2),
        lift_nm=(Nm(limits.box_length_nm // 4), Nm(limits.box_length_nm * 3 // 4)),
    )


def _groups(pieces: Sequence[StackPiece]) -> tuple[GroupId, ...]:
    first: dict[GroupId, int] = {}
    for piece in pieces:
        if piece.group is not None:
            first[piece.group] = min(piece.stands, first.get(piece.group, piece.stands))
    return tuple(sorted(first, key=lambda group: first[group]))


def _bundle(
    kind: str,
    bottom_up: Sequence[StackPiece],
    lays: Sequence[Lay],
    timbers: tuple[Nm, ...],
    may_carry: int,
    stack_nm: int,
    limits: BundleLimits,
) -> Bundle:
    weight = sum(piece.weight_g for piece in bottom_up)
    pairs = list(zip(bottom_up, lays, strict=True))
    length = max(lay.at_nm + piece.length_nm for piece, lay in pairs)
    width = max(lay.across_nm + piece.width_nm for piece, lay in pairs)
    share = max(1, weight)
    along = sum(piece.weight_g * (2 * lay.at_nm + piece.length_nm) for piece, lay in pairs) // (2 * share)
    across = sum(piece.weight_g * (2 * lay.across_nm + piece.width_nm) for piece, lay in pairs) // (2 * share)
    up = sum(piece.weight_g * (2 * lay.up_nm + piece.thickness_nm) for piece, lay in pairs) // (2 * share)
    if not weight:
        along, across = length // 2, width // 2
    notes = [HANDLING_NOTE]
    if length > limits.length_nm:
        notes.insert(0, SPREADER_NOTE)
    return Bundle(
        id=BundleId("-"),
        kind="trim" if kind == "trim" else "panels",
        pieces=tuple(lays),
        first_stands=min(piece.stands for piece in bottom_up),
        length_nm=Nm(length),
        width_nm=Nm(width),
        height_nm=Nm(stack_nm + limits.dunnage_nm),
        weight_g=Grams(weight),
        order=bottom_up[0].order,
        groups=_groups(bottom_up),
        dunnage_nm=timbers,
        centre_nm=Nm(along),
        centre_across_nm=Nm(across),
        centre_up_nm=Nm(up + limits.dunnage_nm),
        lift_nm=lifting_points(along, length, timbers, limits.fork_spread_nm),
        may_carry_g=Grams(may_carry),
        delivery=bottom_up[0].delivery,
        notes=tuple(notes),
    )


def lifting_points(centre_nm: int, length_nm: int, timbers: tuple[Nm, ...], spread_nm: int) -> tuple[Nm, ...]:
    """Return two places to lift at, on either side of the centre of mass, in gaps between the timbers.

    About `spread_nm` apart, or half the length of a short bundle.
    """
    half = min(spread_nm, length_nm // 2) // 2
    gaps = [(left + right) // 2 for left, right in pairwise(timbers)]
    left = [gap for gap in gaps if gap < centre_nm]
    right = [gap for gap in gaps if gap > centre_nm]
    before = min(left, key=lambda gap: abs(centre_nm - half - gap), default=max(0, centre_nm - half))
    after = min(right, key=lambda gap: abs(centre_nm + half - gap), default=min(length_nm, centre_nm + half))
    return Nm(before), Nm(after)
