"""Runs of linear parts: split into stock lengths with laps, and made into pieces."""

from __future__ import annotations

from solver.domain.building import Building, Point
from solver.domain.ids import GroupId
from solver.domain.piece import Allowance, EndCut, Piece, Role
from solver.domain.plant import Profile
from solver.takeoff.piece_drafts import DRAFT, profile_material, profile_weight
from solver.units import Nm, isqrt_nearest

SQUARE = EndCut()


def longest_stock(profile: Profile) -> Nm:
    """Return the longest length that a profile comes in."""
    return max(item.length_nm for item in profile.stock)


def lapped_spans(length_nm: Nm, stock_nm: Nm, lap_nm: Nm) -> tuple[tuple[Nm, Nm], ...]:
    """Return where each part of a run starts and ends, laps included: ceil((L - lap) / (stock - lap)) parts (case G14)."""
    if length_nm <= stock_nm:
        return ((Nm(0), length_nm),)
    step = stock_nm - lap_nm
    count = -(-(length_nm - lap_nm) // step)
    return tuple((Nm(n * step), Nm(min(n * step + stock_nm, length_nm))) for n in range(count))


def run_pieces(
    role: Role,
    profile: Profile,
    start: Point,
    end: Point,
    building: Building,
    *,
    group: GroupId,
    part: str,
    cuts: tuple[EndCut, EndCut] = (SQUARE, SQUARE),
    notes: tuple[str, ...] = (),
) -> tuple[Piece, ...]:
    """Return the pieces of one run from start to end in the group's plane; set shapes tile the run, laps are allowances.

    `cuts`: how the run's two ends are cut.
    """
    length = Nm(isqrt_nearest((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2))
    parts = lapped_spans(length, longest_stock(profile), profile.lap_nm)
    pieces = []
    for n, (low, high) in enumerate(parts):
        last = n == len(parts) - 1
        set_end = length if last else parts[n + 1][0]
        extent = Nm(0), Nm(high - low)
        pieces.append(
            Piece(
                id=DRAFT,
                order=building.order,
                revision=building.revision,
                mark="",
                part=part,
                group=group,
                role=role,
                stands=1,
                material=profile_material(profile, building),
                width_nm=profile.width_nm or profile.blank_nm,
                thickness_nm=profile.for_thickness_nm or Nm(0),
                edge_a=extent,
                edge_b=extent,
                turns=("as_is",),
                outline=(_between(start, end, low, length), _between(start, end, set_end, length)),
                weight_g=profile_weight(profile, extent, extent),
                foot=cuts[0] if n == 0 else SQUARE,
                head=cuts[1] if last else SQUARE,
                allowances=() if last or high == set_end else (lap_allowance(Nm(high - set_end)),),
                notes=notes,
            )
        )
    return tuple(pieces)


def lap_allowance(amount_nm: Nm) -> Allowance:
    """Return the lap that a part of a run has over its share of the run."""
    return Allowance(name="lap", edge="head", amount_nm=amount_nm)


def _between(start: Point, end: Point, along: int, length: int) -> Point:
    """Point of the run at a distance from its start, each coordinate rounded half up."""
    if along == length:
        return end
    dx, dy = end[0] - start[0], end[1] - start[1]
    half = length // 2
    return Nm(start[0] + (dx * along + half) // length), Nm(start[1] + (dy * along + half) // length)
