"""Judge bars with marked pieces: slots as nested, rips in one blank, pieces out of drops; nothing shared with the search."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from solver.domain.cut_plan import Bar, BarPiece, CutPlan, Remnant
from solver.domain.ids import PieceId
from solver.domain.piece import Cutout, Piece
from solver.domain.plant import Plant
from solver.errors import FaultCollector

Pieces = Mapping[PieceId, Piece]
BLANK_RULES = (
    "bars are those of the nesting, and every piece lies in a slot of its own shape",
    "rips in one blank: one keeps each joint, both faces and a kerf at the bevel fit the cover, the longer sets the length",
    "pieces from drops: the panel is cut from the same bar, its opening leaves them room, joints and kerfs",
    "the bound over all ways is not above the nesting's own",
)


def check_bars(cut: CutPlan, pieces: Pieces, plant: Plant, remnants: Iterable[Remnant], faults: FaultCollector) -> None:
    """Note every fault of the bars of one material; `remnants`: those that were there for it."""
    path = f"cuts[{cut.name}]"
    offered = {item.id for item in cut.job.stock}
    nested = [bar for bar in cut.bars if bar.stock in offered]
    _same_slots(cut, nested, path, faults)
    if cut.floor is not None and cut.floor > cut.result.lower_bound * (1 + 1e-12):
        faults.add(f"{path}.floor", f"{cut.floor} is above {cut.result.lower_bound}", "at most the nesting's own bound")
    for bar in cut.bars:
        where = f"{path}.{bar.id}"
        for item in bar.pieces:
            if item.piece in pieces and pieces[item.piece].material != cut.material:
                faults.add(where, f"{item.piece} lies in a slot of another shape", "its own material")
        _rips(bar, pieces, plant, where, faults)
        _drops(bar, pieces, plant, where, faults)
        for item in bar.pieces:
            if item.way == "whole" and item.piece in pieces and not _own_shape(item, pieces[item.piece]):
                faults.add(where, f"{item.piece} lies in a slot of another shape", "its own shape")
    _from_remnants([bar for bar in cut.bars if bar.stock not in offered], pieces, plant, remnants, path, faults)


def _same_slots(cut: CutPlan, bars: Sequence[Bar], path: str, faults: FaultCollector) -> None:
    wanted = Counter(
        (bar.stock, tuple((item.turn, item.edge_a, item.edge_b) for item in bar.pieces))
        for bar in cut.result.bars
        for _ in range(bar.repeat)
    )
    found: Counter[object] = Counter()
    for bar in bars:
        slots = [item for item in bar.pieces if item.way in ("whole", "left_rip")]
        found[bar.stock, tuple((item.turn, item.edge_a, item.edge_b) for item in slots)] += 1
    if wanted != found:
        faults.add(f"{path}.bars", "are not the bars that nesting gave", "a bar for each nested bar")


def _own_shape(item: BarPiece, piece: Piece) -> bool:
    spans = sorted((item.edge_a[1] - item.edge_a[0], item.edge_b[1] - item.edge_b[0]))
    if piece.peak_nm is not None:
        return spans == [piece.length_nm, piece.length_nm]
    return spans == sorted((piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0]))


def _rips(bar: Bar, pieces: Pieces, plant: Plant, where: str, faults: FaultCollector) -> None:
    """Lefts and rights stand in pairs, in one slot; each pair is judged by widths on both faces."""
    ripped = [item for item in bar.pieces if item.way in ("left_rip", "right_rip")]
    if [item.way for item in ripped] != ["left_rip", "right_rip"] * (len(ripped) // 2):
        faults.add(where, "a rip has no partner in its blank", "one that keeps the left joint, then one that keeps the right")
        return
    for left, right in zip(ripped[::2], ripped[1::2], strict=True):
        if (left.edge_a, left.edge_b, left.turn) != (right.edge_a, right.edge_b, right.turn) or left.edge_a != left.edge_b:
            faults.add(where, f"{left.piece} and {right.piece} do not lie in one square blank", "the same slot")
        one, two = pieces.get(left.piece), pieces.get(right.piece)
        if one is not None and two is not None:
            _pair(left, one, two, plant, where, faults)


def _pair(slot: BarPiece, one: Piece, two: Piece, plant: Plant, where: str, faults: FaultCollector) -> None:
    if one.left.kind != "joint" or two.right.kind != "joint" or "joint" in (one.right.kind, two.left.kind):
        faults.add(where, f"{one.id} and {two.id} do not keep one joint each", "a left and a right joint in one blank")
    if slot.edge_a[1] - slot.edge_a[0] != max(one.length_nm, two.length_nm):
        faults.add(where, f"the blank of {one.id} and {two.id} is not as long as the longer", "the longer one's length")
    cover, thick, kerf = one.width_nm, one.thickness_nm, plant.saw.kerf_nm
    outside = 2 * cover - one.right.outside_nm - two.left.outside_nm
    inside = 2 * cover - one.right.inside_nm - two.left.inside_nm
    spare = cover - max(outside, inside)
    lean = max(abs(edge.outside_nm - edge.inside_nm) for edge in (one.right, two.left))
    if two.width_nm != cover or spare < 0 or (spare * thick) ** 2 < kerf**2 * (thick**2 + lean**2):
        faults.add(where, f"{one.id} and {two.id} are too wide for one panel", "both faces and a kerf within the cover")


def _drops(bar: Bar, pieces: Pieces, plant: Plant, where: str, faults: FaultCollector) -> None:
    slots = {item.piece: item for item in bar.pieces if item.way != "drop"}
    used: dict[tuple[PieceId, str], list[Piece]] = defaultdict(list)
    for item in bar.pieces:
        if item.way != "drop":
            continue
        if item.host not in slots or (item.edge_a, item.edge_b) != (slots[item.host].edge_a, slots[item.host].edge_b):
            faults.add(where, f"{item.piece} comes from a drop of {item.host}", "a panel cut from this bar, in its slot")
        elif item.piece in pieces and item.host in pieces:
            used[item.host, item.opening or ""].append(pieces[item.piece])
    for (host, opening), mine in used.items():
        holes = [hole for hole in pieces[host].cutouts if hole.opening == opening]
        drop = _squared(pieces[host], holes[0], plant) if len(holes) == 1 else None
        if drop is None:
            faults.add(where, f"{host} has no one opening {opening!r}", "an opening of the panel")
            continue
        _fit(drop, mine, plant, where, faults)


def _squared(host: Piece, hole: Cutout, plant: Plant) -> Remnant:
    """What is left of an opening, counted from the joint's edge inward: at the least."""
    us, zs, bit = [u for u, _ in hole.outline], [z for _, z in hole.outline], plant.router_bit_nm
    ends = [u for u, _ in host.outline]
    at_left, at_right = min(us) == min(ends) and host.left.kind == "joint", max(us) == max(ends) and host.right.kind == "joint"
    lost = bit * (2 - at_left - at_right) + sum(
        abs(item.amount_nm) for item in host.allowances if item.edge in ("left", "right")
    )
    for edge, reached in ((host.left, min(us) == min(ends)), (host.right, max(us) == max(ends))):
        lost += abs(edge.outside_nm - edge.inside_nm) if reached else 0
    return Remnant(
        id=hole.opening,  # type: ignore[arg-type]  # named for what it falls out of
        material=host.material,
        length_nm=max(zs) - min(zs) - 2 * bit,  # type: ignore[arg-type]  # whole nanometres
        width_nm=max(us) - min(us) - lost,  # type: ignore[arg-type]
        joints="both" if at_left and at_right else "left" if at_left else "right" if at_right else "none",
    )


def _fit(drop: Remnant, mine: Sequence[Piece], plant: Plant, where: str, faults: FaultCollector) -> None:
    run = sum(piece.length_nm for piece in mine) + plant.saw.kerf_nm * (len(mine) - 1)
    if run > drop.length_nm:
        faults.add(where, f"{run} nm of pieces come from {drop.id}", f"at most {drop.length_nm} nm")
    for piece in mine:
        need = {side for side, edge in (("left", piece.left), ("right", piece.right)) if edge.kind == "joint"}
        have = {"left", "right"} if drop.joints == "both" else {drop.joints}
        if not need <= have:
            faults.add(where, f"{piece.id} needs a joint that {drop.id} does not have", "a drop with its joint")
        faces = [
            piece.width_nm - getattr(piece.left, face) - getattr(piece.right, face) for face in ("outside_nm", "inside_nm")
        ]
        if max(faces) > (piece.width_nm if drop.width_nm is None else drop.width_nm) or piece.cutouts:
            faults.add(where, f"{piece.id} does not come whole out of {drop.id}", "a wider drop")
        if need == {"left", "right"} and drop.width_nm not in (None, piece.width_nm):
            faults.add(where, f"{piece.id} needs both joints of a whole width", "a drop as wide as the cover")


def _from_remnants(
    bars: Sequence[Bar], pieces: Pieces, plant: Plant, remnants: Iterable[Remnant], path: str, faults: FaultCollector
) -> None:
    rack = {item.id: item for item in remnants}
    for name, count in Counter(bar.stock for bar in bars).items():
        if count > 1:
            faults.add(f"{path}.bars", f"remnant {name} is used {count} times", "once")
    for bar in bars:
        where, remnant = f"{path}.{bar.id}", rack.get(bar.stock)
        mine = [pieces[item.piece] for item in bar.pieces if item.piece in pieces]
        if remnant is None or remnant.material != bar.material or remnant.length_nm != bar.length_nm:
            faults.add(where, f"{bar.stock!r} is no stock of the job and no remnant", "a remnant of the material")
            continue
        _fit(remnant, mine, plant, where, faults)
        ends = [(min(i.edge_a[0], i.edge_b[0]), max(i.edge_a[1], i.edge_b[1])) for i in bar.pieces]
        apart = all(after[0] - before[1] >= plant.saw.kerf_nm for before, after in pairwise(ends))
        if not apart or not ends or ends[0][0] < 0 or ends[-1][1] > bar.length_nm:
            faults.add(where, "pieces overlap or leave the remnant", "one behind the other, a kerf between")
