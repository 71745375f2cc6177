"""Roof planes to panels: eave to ridge, joint to joint, cut at hips and valleys, lapped where they would be too long.

Set shapes tile the plane's outline exactly: lower face, up to the line of the ridge. What the cut shape has more or less is
named: the ridge gap and the upper face of a vertical cut at the head (only where the head is a ridge, hip or valley), the
lap at the foot of the upper of two lapped panels, the joint growth at the right of every panel but the last.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Literal

from solver.domain.building import Building, Opening, RoofPlane
from solver.domain.cut_shape import height_on_line, refit_line_ends
from solver.domain.piece import Allowance, Cutout, EdgeCut, EndCut, Piece
from solver.domain.plant import PanelFamily, Plant
from solver.domain.takeoff import BrokenRule
from solver.errors import FieldFault, NoPlan
from solver.takeoff.piece_drafts import DRAFT, longest_panel_made, panel_material, panel_weight
from solver.takeoff.roof_cuts import Slope, panel_end_cuts, why_saw_cannot_cut
from solver.takeoff.roof_layout import cut_widths, lay_out_roof
from solver.takeoff.roof_shapes import StripCell, StripForks, strip_cells, twice_area
from solver.takeoff.roof_supports import Support, support_lines
from solver.units import Nm, show_angle, show_length


def roof_pieces(plane: RoofPlane, building: Building, plant: Plant) -> tuple[Piece, ...]:
    """Return the panels of a roof plane, left to right and from the eave up.

    Raises NoPlan, naming the plane, where the saw does not reach a cut, a panel is too long and no lap may be made, or no
    panel can follow the outline.
    """
    family = plant.family(plane.family)
    slope = Slope(plane, family)
    joints = lay_out_roof(plane, family, plant.layout).joints
    widths = cut_widths(joints, family)
    supports = support_lines(plane, building)
    pieces: list[Piece] = []
    faults: list[FieldFault] = []
    for n in range(len(widths)):
        ends = _long_edges(n, widths, family)
        for cell in _cells(plane, plant, joints[n], joints[n + 1], supports, faults):
            found = _faults(cell, slope, plant)
            faults += found
            if not found:
                left, right = cell.span
                inside = Nm(left - joints[n]), Nm(joints[n + 1] - right)
                cut = _ripped(ends[0], inside[0]), _ripped(ends[1], inside[1])
                pieces.append(_piece(cell, slope, building, ends=cut, last=n == len(widths) - 1))
    if faults:
        raise NoPlan(*dict.fromkeys(faults))
    return tuple(pieces)


def roof_broken_rules(plane: RoofPlane, plant: Plant) -> tuple[BrokenRule, ...]:
    """Return the soft rules that the layout of a plane breaks."""
    return lay_out_roof(plane, plant.family(plane.family), plant.layout).broken


def _long_edges(n: int, widths: tuple[Nm, ...], family: PanelFamily) -> tuple[EdgeCut, EdgeCut]:
    """How panel n's long edges are made: the joints kept, and rips at the rakes."""
    rip = Nm(family.cover_nm - widths[n])
    if rip == 0:
        return EdgeCut(kind="joint"), EdgeCut(kind="joint")
    cut = EdgeCut(kind="rip", outside_nm=rip, inside_nm=rip)
    if n == len(widths) - 1:
        return EdgeCut(kind="joint"), cut
    return cut, EdgeCut(kind="joint")


def _ripped(cut: EdgeCut, inside_nm: Nm) -> EdgeCut:
    """A long edge when the plane begins or ends so far inside the panel."""
    if inside_nm == 0:
        return cut
    return EdgeCut(kind="rip", outside_nm=Nm(cut.outside_nm + inside_nm), inside_nm=Nm(cut.inside_nm + inside_nm))


def _cells(
    plane: RoofPlane, plant: Plant, x0: Nm, x1: Nm, supports: tuple[Support, ...], faults: list[FieldFault]
) -> Iterator[StripCell]:
    """Cells of one strip, parted by openings that take its whole width, and by end laps."""
    path = f"roofs.{plane.id}"
    try:
        cells = list(strip_cells(plane.outline, plane.edges, x0, x1))
    except StripForks:
        faults.append(
            FieldFault(path, "the outline parts into two between two panel joints", "a plane that one panel can follow")
        )
        return
    for opening in plane.openings:
        cells = [part for cell in cells for part in _around(cell, opening)]
    limit, why = longest_panel_made(plant.family(plane.family), plant)
    for cell in cells:
        parts = _lapped(cell, plane, plant, limit, supports)
        if parts is None:
            length = max(y for _, y in cell.high) - min(y for _, y in cell.low)
            faults.append(
                FieldFault(
                    path,
                    f"a panel of {show_length(length, plant.unit)} is longer than the {show_length(limit, plant.unit)} "
                    f"that {why}, and no end lap falls on a support",
                    "a bearing wall under the slope, a shorter slope, or a family with an end lap",
                )
            )
        else:
            yield from parts


def _around(cell: StripCell, opening: Opening) -> Iterator[StripCell]:
    """The cell, or what is left below and above an opening that takes its whole width."""
    left, right = cell.span
    if opening.u0_nm > left or opening.u1_nm < right:
        yield cell
        return
    below, above = cell.split(opening.z0_nm, "opening"), cell.split(opening.z1_nm, "opening")
    if below is None and above is None:
        yield cell  # the opening lies in another cell of this strip
        return
    if below:
        yield below[0]
    if above:
        yield above[1]


def _lapped(
    cell: StripCell, plane: RoofPlane, plant: Plant, limit: Nm, supports: tuple[Support, ...]
) -> tuple[StripCell, ...] | None:
    """The cell in as few lengths as reach, lapped over supports; nothing where that cannot be."""
    family = plant.family(plane.family)
    slope = Slope(plane, family)
    done: list[StripCell] = []
    rest = cell
    while _blank(rest, slope) > limit:
        if family.end_lap_nm == 0:
            return None
        lines = [
            line.y_nm
            for line in supports
            if line.carries(*cell.span)
            and not any(o.z0_nm - family.end_lap_nm < line.y_nm < o.z1_nm + family.end_lap_nm for o in plane.openings)
        ]
        fits = [parts for y in lines if (parts := rest.split(y, "lap")) and _blank(parts[0], slope) <= limit]
        if not fits:
            return None
        lower, rest = max(fits, key=lambda parts: parts[1].low[0][1])
        done.append(lower)
    return (*done, rest)


def _blank(cell: StripCell, slope: Slope) -> int:
    """The longest extent of a cell as cut, whether or not its right edge is held back for a joint to grow."""
    return max(max(edge_a[1], edge_b[1], peak) for edge_a, edge_b, peak in (_extents(cell, slope, more) for more in (0, 1)))


def _extents(cell: StripCell, slope: Slope, grown: int) -> tuple[tuple[Nm, Nm], tuple[Nm, Nm], Nm]:
    """Cut extents on the left and right long edge and the greatest height, from the lowest point of the foot as it stands.

    `grown`: 1 where the panel is cut narrower on its right by the growth of the joint there; foot and head keep their lines.
    """
    lap = slope.family.end_lap_nm if cell.low_kinds[0] == "lap" else 0
    left, right = cell.span
    right = Nm(max(left + 1, right - slope.family.joint_growth_nm * grown))
    foot = refit_line_ends(cell.low, left, right)
    heads = list(_heads(cell, slope, right))
    zero = min(y for _, y in cell.low) - lap
    edge_a = _edge(foot[0][1] - lap - zero, heads[0][1] - zero)
    edge_b = _edge(foot[-1][1] - lap - zero, heads[-1][1] - zero)
    return edge_a, edge_b, Nm(max(y for _, y in heads) - zero)


def _edge(foot: int, head: int) -> tuple[Nm, Nm]:
    """The extent of one long edge; a tip that lies within the ridge gap is cut off, and its edge has no length left."""
    return Nm(min(foot, head)), Nm(head)


def _heads(cell: StripCell, slope: Slope, right: Nm) -> Iterator[tuple[int, int]]:
    """Points of the head as cut up to the right edge, left to right, each stretch with its own allowances."""
    for start, end, kind in zip(cell.high, cell.high[1:], cell.high_kinds, strict=False):
        if start[0] < end[0] and start[0] < right:
            more = sum(item.amount_nm for item in slope.head_allowances(kind))
            stop = end if end[0] <= right else (right, height_on_line(start, end, right))
            yield start[0], start[1] + more
            yield stop[0], stop[1] + more


def _faults(cell: StripCell, slope: Slope, plant: Plant) -> tuple[FieldFault, ...]:
    foot, head = panel_end_cuts(cell, slope)
    why = dict.fromkeys(why_saw_cannot_cut(cut, plant.saw, slope.family.thickness_nm, plant.unit) for cut in (*foot, *head))
    return tuple(
        FieldFault(f"roofs.{slope.plane.id}", problem, "another pitch, a square cut, or a saw that reaches it")
        for problem in why
        if problem
    )


def _piece(cell: StripCell, slope: Slope, building: Building, *, ends: tuple[EdgeCut, EdgeCut], last: bool) -> Piece:
    plane, family = slope.plane, slope.family
    edge_a, edge_b, peak = _extents(cell, slope, 0 if last else 1)
    foot, head = panel_end_cuts(cell, slope)
    cutouts = tuple(_cutouts(cell, plane, ends))
    area = twice_area(cell.outline) - sum(twice_area(cut.outline) for cut in cutouts)
    return Piece(
        id=DRAFT,
        order=building.order,
        revision=building.revision,
        mark="",
        part=plane.roof,
        group=plane.id,
        role="roof_panel",
        stands=1,
        material=panel_material(family, plane.finish),
        width_nm=family.cover_nm,
        thickness_nm=family.thickness_nm,
        edge_a=edge_a,
        edge_b=edge_b,
        turns=family.turns(faces_alike=plane.finish.outside == plane.finish.inside),
        outline=cell.outline,
        weight_g=panel_weight(family, Fraction(area, 2)),
        peak_nm=peak if _needs_square_blank(cell, ends, edge_a, edge_b) else None,
        left=ends[0],
        right=ends[1],
        foot=_main_cut(foot),
        head=_main_cut(head),
        foot_cuts=tuple(foot) if len(foot) > 1 else (),
        head_cuts=tuple(head) if len(head) > 1 else (),
        cutouts=cutouts,
        allowances=_allowances(cell, slope, last=last),
        hand=_hand(cell),
        notes=tuple(_notes(cell, slope, building, foot, head)),
    )


def _needs_square_blank(cell: StripCell, ends: tuple[EdgeCut, EdgeCut], edge_a: tuple[Nm, Nm], edge_b: tuple[Nm, Nm]) -> bool:
    """Whether straight end lines from edge to edge of the bar cannot say the shape: a knee, or a slope on a ripped width."""
    ripped = any(cut.kind == "rip" for cut in ends)
    cut_off = edge_a[0] == edge_a[1] or edge_b[0] == edge_b[1]
    return len(cell.low) > 2 or len(cell.high) > 2 or cut_off or (ripped and edge_a != edge_b)


def _main_cut(cuts: list[EndCut]) -> EndCut:
    return max(cuts, key=lambda cut: (cut.swing_udeg, cut.tilt_udeg))


def _allowances(cell: StripCell, slope: Slope, *, last: bool) -> tuple[Allowance, ...]:
    kinds = dict.fromkeys(cell.high_kinds)
    found = list(dict.fromkeys(item for kind in kinds for item in slope.head_allowances(kind)))
    if cell.low_kinds[0] == "lap":
        found.append(Allowance(name="end_lap", edge="foot", amount_nm=slope.family.end_lap_nm))
    if not last and slope.family.joint_growth_nm:
        found.append(Allowance(name="joint_growth", edge="right", amount_nm=Nm(-slope.family.joint_growth_nm)))
    return tuple(found)


def _cutouts(cell: StripCell, plane: RoofPlane, ends: tuple[EdgeCut, EdgeCut]) -> Iterator[Cutout]:
    """Holes and notches of the openings that touch the cell without taking its whole width."""
    left, right = cell.span
    bottom, top = min(y for _, y in cell.low), max(y for _, y in cell.high)
    for opening in plane.openings:
        x0, x1 = max(opening.u0_nm, left), min(opening.u1_nm, right)
        y0, y1 = max(opening.z0_nm, bottom), min(opening.z1_nm, top)
        if x0 >= x1 or y0 >= y1:
            continue
        keeps_left = x0 == left and ends[0].kind == "joint"
        keeps_right = x1 == right and ends[1].kind == "joint"
        yield Cutout(
            opening=opening.id,
            outline=((x0, y0), (x1, y0), (x1, y1), (x0, y1)),
            drop_joints="left" if keeps_left else "right" if keeps_right else "none",
        )


def _hand(cell: StripCell) -> Literal["left", "right", "none"]:
    """Left or right: the side on which the eave is cut back, seen from above with the eave down."""
    if cell.low_kinds[0] in ("lap", "opening") or cell.low[0][1] == cell.low[-1][1]:
        return "none"
    return "left" if cell.low[0][1] > cell.low[-1][1] else "right"


def _notes(cell: StripCell, slope: Slope, building: Building, foot: list[EndCut], head: list[EndCut]) -> Iterator[str]:
    overhang = max((-y for y in _eave_heights(cell) if y < 0), default=0)
    if overhang:
        mark = show_length(overhang, building.unit)
        yield f"mark the wall line underneath, {mark} up from the lower edge of the eave"
    for name, cuts in (("foot", foot), ("head", head)):
        if len(cuts) > 1:
            yield f"{name}: {len(cuts)} cuts, " + ", then ".join(_spoken(cut) for cut in cuts)
    if cell.high_kinds[0] == "lap":
        yield "the panel above laps over this one on the support"


def _eave_heights(cell: StripCell) -> Iterable[int]:
    return (start[1] for start, kind in zip(cell.low, cell.low_kinds, strict=False) if kind == "eave")


def _spoken(cut: EndCut) -> str:
    bevel = f", bevel {show_angle(cut.tilt_udeg)}" if cut.tilt_udeg else ""
    return f"{show_angle(cut.swing_udeg)} from square{bevel}" if cut.swing_udeg else f"square{bevel}"
