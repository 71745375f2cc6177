"""From marked pieces of an order to the job that bundling solves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.bundling.rules import fits_two_timbers
from solver.domain.building import BASE_ROLE, Delivery, delivery_of_part
from solver.domain.bundle import LooseItem, StackJob, StackPiece
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plant import PanelFamily, Plant, Profile
from solver.domain.takeoff import HardwareLine
from solver.units import INCH, Grams, Nm

BASE_NOTE = (
    "base channel goes ahead of the pour as its template: it comes first of all, by itself; where the slab crew wants it days "
    "before the panels, name 'base' in the parts of an earlier delivery"
)


def stack_job(
    pieces: Sequence[Piece],
    plant: Plant,
    deliveries: Sequence[Delivery] = (),
    hardware: Sequence[HardwareLine] = (),
    *,
    template: bool = False,
) -> StackJob:
    """Return the bundling job of one order's pieces, and its hardware, within the plant's limits.

    With the order's deliveries no bundle mixes two of them; hardware goes with the delivery of its wall or plane, else with
    the first. `template`: base channel goes ahead of the pour, which is said where no delivery names it. Panels are seen as
    boxes at their longer face with the tongue; formed parts as boxes of their profile.
    """
    has_base = any(piece.role == BASE_ROLE for piece in pieces)
    return StackJob(
        unit=plant.unit,
        limits=plant.bundle,
        pieces=tuple(_stack_piece(piece, plant, delivery_of_part(deliveries, piece.part, piece.role)) for piece in pieces),
        company_prefix=plant.company_prefix,
        loose=tuple(_loose(hardware, plant, pieces, deliveries)),
        notes=(BASE_NOTE,) if template and has_base and not any(delivery.base for delivery in deliveries) else (),
    )


def _loose(
    hardware: Sequence[HardwareLine], plant: Plant, pieces: Sequence[Piece], deliveries: Sequence[Delivery]
) -> Iterator[LooseItem]:
    """Yield hardware by item and delivery, in whole packs; what two deliveries share goes into both boxes, nuts with base."""
    order = pieces[0].order if pieces else None
    weights = {rule.item: rule.pack_g for rule in plant.hardware}
    wanted = {part: delivery.id for delivery in deliveries for part in delivery.parts}
    first = min(deliveries, key=lambda delivery: delivery.need_by).id if deliveries else None
    part_of = {piece.group: piece.part for piece in pieces}
    base = next((delivery.id for delivery in deliveries if delivery.base), None)
    of_base = {rule.item for rule in plant.hardware if rule.per == "anchor"}
    lines: dict[tuple[str | None, str], list[HardwareLine]] = {}
    for line in hardware:
        part = None if line.group is None else part_of.get(line.group)
        delivery = first if part is None else wanted.get(part, first)
        lines.setdefault((base if base and line.item in of_base else delivery, line.item), []).append(line)
    for (delivery, item), same in sorted(lines.items(), key=lambda pair: str(pair[0][0])):
        quantity = sum(line.quantity for line in same)
        packs = -(-quantity // same[0].pack)
        yield LooseItem(
            item=item,
            quantity=quantity,
            packs=packs,
            pack=same[0].pack,
            weight_g=Grams(packs * weights.get(item, 0)),
            order=order,
            delivery=delivery,
        )


def _stack_piece(piece: Piece, plant: Plant, delivery: Delivery | None) -> StackPiece:
    name = Material.parse(piece.material).item
    if piece.is_panel:
        family = next((item for item in plant.families if item.id == name), None)
        width, thickness = panel_width_nm(piece, family), int(piece.thickness_nm)
        carries = _carries(piece, family, width, plant.bundle.solid_permille)
    else:
        profile = next((item for item in plant.profiles if item.id == name), None)
        width, thickness = _formed(piece, profile)
        carries = False
    if piece.is_panel:
        small = not fits_two_timbers(piece.length_nm, plant.bundle)  # a strip that would tip goes into a box
    else:
        small = max(piece.length_nm, width, thickness) <= plant.bundle.small_nm
    return StackPiece(
        id=piece.id,
        stands=piece.stands,
        length_nm=piece.length_nm,
        width_nm=Nm(width),
        thickness_nm=Nm(thickness),
        weight_g=piece.weight_g,
        order=piece.order,
        group=piece.group,
        kind="small" if small else "panel" if piece.is_panel else "trim",
        carries=carries,
        delivery=None if delivery is None else delivery.id,
        lot="base" if piece.role == BASE_ROLE and not small else None,
    )


def panel_width_nm(piece: Piece, family: PanelFamily | None) -> int:
    """Return the width of a panel's longer face after its rips, with the tongue where a joint is left to have it."""
    left = min(piece.left.outside_nm, piece.left.inside_nm)
    right = min(piece.right.outside_nm, piece.right.inside_nm)
    kept = piece.left.kind == "joint" or piece.right.kind == "joint"
    return piece.width_nm - left - right + (family.tongue_nm if family is not None and kept else 0)


def _carries(piece: Piece, family: PanelFamily | None, width_nm: int, solid_permille: int) -> bool:
    """Return whether others may lie on a panel: wide enough, no sharp end, and with most of its face left."""
    if family is not None and width_nm < family.narrowest_rip_nm:
        return False
    edges = (piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0])
    if 2 * min(edges) < piece.length_nm:
        return False
    gone = sum(abs(_twice_area(cutout.outline)) for cutout in piece.cutouts)
    return 1000 * gone <= (1000 - solid_permille) * 2 * piece.length_nm * width_nm


def _twice_area(outline: Sequence[tuple[Nm, Nm]]) -> int:
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True))


def _formed(piece: Piece, profile: Profile | None) -> tuple[int, int]:
    """Return width and height of a formed part as it lies: its profile's, or half its blank by an inch."""
    if profile is None:
        return max(INCH, piece.width_nm // 2), max(INCH, piece.thickness_nm)
    return profile.width_nm or max(INCH, profile.blank_nm // 2), max(INCH, profile.flange_nm)
