"""What may lie on what, and what a stack of pieces may weigh and measure: the limits as plain questions."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.bundle import BundleLimits, StackPiece
from solver.units import Nm

GRAVITY_1E5 = 980_665  # standard gravity, 9.80665 m/s2
_PRESSURE_SCALE = 10**10  # grams x GRAVITY_1E5 per square nanometre, to pascal


def overhang_nm(upper: StackPiece, lower: StackPiece) -> int:
    """Return by how much `upper` is longer and wider than the piece below, both sides together: the less the steadier."""
    return max(0, upper.length_nm - lower.length_nm) + max(0, upper.width_nm - lower.width_nm)


def may_lie_on(upper: StackPiece, lower: StackPiece, limits: BundleLimits) -> bool:
    """Return whether `upper` may lie on `lower`: it carries, and the overhang, shared by both ends and sides, is allowed."""
    across = limits.overhang_nm if limits.overhang_across_nm is None else limits.overhang_across_nm
    return (
        lower.carries
        and upper.length_nm - lower.length_nm <= 2 * limits.overhang_nm
        and upper.width_nm - lower.width_nm <= 2 * across
    )


def longest_bundle_nm(limits: BundleLimits) -> Nm:
    """Return the longest bundle that can be lifted, with a spreader where there is one."""
    return max(limits.length_nm, limits.spreader_length_nm or limits.length_nm)


def timber_inset_nm(length_nm: int, limits: BundleLimits) -> int:
    """Return how far the first timber lies from the end: as the limit says, a fifth of a short piece."""
    return min(limits.dunnage_from_end_nm, length_nm // 5)


def fits_two_timbers(length_nm: int, limits: BundleLimits) -> bool:
    """Return whether a piece is long enough for two timbers under it, side by side at the least."""
    return length_nm - 2 * timber_inset_nm(length_nm, limits) >= limits.dunnage_width_nm


def timbers_needed(weight_g: int, bottom: StackPiece, limits: BundleLimits) -> int | None:
    """Return how many timbers go under a bundle of this weight, or None when not enough of them fit.

    By spacing, and by foam stress under `tiers` such bundles (case S1: 1,520 lb on 24 ft needs 5, two tiers 6).
    """
    span = bottom.length_nm - 2 * timber_inset_nm(bottom.length_nm, limits)
    by_spacing = max(2, -(-span // limits.dunnage_every_nm) + 1)
    bears = limits.core_stress_pa * limits.dunnage_width_nm * bottom.width_nm
    by_stress = -(-weight_g * limits.tiers * GRAVITY_1E5 * _PRESSURE_SCALE // bears)
    most = span // (2 * limits.dunnage_width_nm) + 1
    wanted = max(by_spacing, by_stress)
    if wanted <= max(most, 2):
        return wanted
    alone = -(-weight_g * GRAVITY_1E5 * _PRESSURE_SCALE // bears)  # not enough room for tiers: then nothing goes on top
    return most if max(by_spacing, alone) <= most else None


def foam_capacity_g(count: int, bottom: StackPiece, limits: BundleLimits) -> int:
    """Return the weight that so many timbers under this piece may press into its foam."""
    return limits.core_stress_pa * limits.dunnage_width_nm * bottom.width_nm * count // (GRAVITY_1E5 * _PRESSURE_SCALE)


def is_too_heavy(weight_g: int, width_nm: int, limits: BundleLimits) -> bool:
    """Return whether a weight is over the limit, or over the forklift's moment with the load's half width as its centre.

    29 CFR 1910.178 App. A-5: rated load times rated centre is the moment no load may exceed; the rating itself is the
    most at any nearer centre.
    """
    if weight_g > limits.weight_g:
        return True
    if limits.forklift_g is None:
        return False
    centre_twice = max(2 * limits.forklift_centre_nm, width_nm)
    return weight_g * centre_twice > limits.forklift_g * 2 * limits.forklift_centre_nm


def single_panel_faults(piece: StackPiece, limits: BundleLimits) -> list[tuple[str, str]]:
    """Return why a panel can't be a bundle even alone: pairs of what is wrong and what would be right."""
    made = []
    if piece.length_nm > longest_bundle_nm(limits):
        made.append(("is longer than a bundle may be", "a shorter piece, or a spreader that takes it"))
    if piece.thickness_nm + limits.dunnage_nm > limits.height_nm:
        made.append(("is thicker than a bundle with its dunnage may be high", "a thinner piece or a higher limit"))
    if limits.width_nm is not None and piece.width_nm > limits.width_nm:
        made.append(("is wider than a bundle may be", "a narrower piece or a wider limit"))
    if is_too_heavy(piece.weight_g, piece.width_nm, limits):
        made.append(("is heavier than a bundle may be", "a lighter piece or a stronger forklift"))
    elif timbers_needed(piece.weight_g, piece, limits) is None:
        made.append(("presses harder on its dunnage than its foam bears", "wider dunnage or a wider piece"))
    return made


def pieces_set_aside(taken_off: Sequence[int]) -> list[int]:
    """Return the places, in order of taking off, of pieces that come off before one that stands earlier."""
    made, least = [], None
    for place in range(len(taken_off) - 1, -1, -1):
        if least is not None and taken_off[place] > least:
            made.append(place)
        else:
            least = taken_off[place]
    return made[::-1]
