"""Whether bundles hold: every piece once, the order kept, nothing too heavy, too high, too far over, or pressed too hard."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from solver.domain.bundle import Bundle, BundleLimits, Lay, StackJob, StackPiece, StackResult
from solver.domain.ids import PieceId
from solver.domain.report import Report
from solver.errors import FieldFault

CHECKED = (
    "every piece lies in exactly one bundle, panels, trims and small parts apart, orders and deliveries apart",
    "within a bundle the first to stand comes off first, but for the pieces named as set aside",
    "each bundle is a run of its delivery's order of standing; bundles are listed and numbered in order of need",
    "weight, height with dunnage, length, width and the forklift's moment are within the limits, as stated",
    "each panel lies on the one below, which may carry, within the overhang at each end and side, and balanced",
    "timbers lie under the bottom piece, apart and from the ends as the limits say, and press no harder than foam bears",
    "no trim lies on a shorter or narrower one, overlaps another or tips off its timbers; the first to stand comes off first",
    "base channel is by itself; boxes are not overfilled",
    "the centre of mass is as stated, between the outer timbers and between the lift points",
    "serial codes have 18 digits and their check digit, no code twice; count, bound and status agree",
)


def check(job: StackJob, result: StackResult) -> Report:
    """Return what was checked of a stack result and every fault found."""
    pieces = {piece.id: piece for piece in job.pieces}
    faults = [*_membership(job, result), *_order_of_need(result), *_proof(result)]
    if not any("no such piece" in fault.problem for fault in faults):
        for place, bundle in enumerate(result.bundles):
            path = f"bundles[{place}] {bundle.id}"
            faults += _bundle_faults(path, bundle, pieces, job.limits)
        faults += _contiguous(job, result)
    faults += _starts(job, result)
    faults += _serials(job, result)
    return Report(checked=CHECKED, faults=tuple(faults))


def _fault(path: str, problem: str, fix: str) -> FieldFault:
    return FieldFault(path, problem, fix)


def _membership(job: StackJob, result: StackResult) -> Iterator[FieldFault]:
    where: dict[str, str] = {}
    known = {piece.id for piece in job.pieces}
    for bundle in result.bundles:
        if not bundle.pieces and not bundle.items:
            yield _fault(bundle.id, "is empty", "no empty bundle")
        for lay in bundle.pieces:
            if lay.piece not in known:
                yield _fault(bundle.id, f"{lay.piece}: no such piece in the job", "pieces of the job only")
            elif lay.piece in where:
                yield _fault(bundle.id, f"{lay.piece} lies in {where[lay.piece]} too", "each piece once")
            where[lay.piece] = bundle.id
    for piece in job.pieces:
        if piece.id not in where:
            yield _fault(piece.id, "lies in no bundle", "every piece in a bundle")
    if len({bundle.id for bundle in result.bundles}) < len(result.bundles):
        yield _fault("bundles", "an id is given twice", "each bundle an id of its own")


def _starts(job: StackJob, result: StackResult) -> Iterator[FieldFault]:
    """All hardware is in start boxes, each line once; they come before every other bundle of their order."""
    packed = [item for bundle in result.bundles for item in bundle.items]
    for item, count in Counter(job.loose).items():
        if packed.count(item) != count:
            yield _fault("loose", f"{item.item} is packed {packed.count(item)} times, not {count}", "each line in one box")
    for item in set(packed) - set(job.loose):
        yield _fault("loose", f"{item.item} in a box is not hardware of the job", "the job's hardware only")
    opened = set()
    for bundle in result.bundles:
        if not bundle.items:
            opened.add(bundle.order)
            continue
        if bundle.kind != "box" or bundle.pieces or bundle.first_stands != 0:
            yield _fault(bundle.id, "holds hardware, but is no start box", "a box of hardware alone, wanted before all")
        if bundle.order in opened:
            yield _fault(bundle.id, "is a start box that comes after other bundles of its order", "the first to come off")
        if {(item.order, item.delivery) for item in bundle.items} != {(bundle.order, bundle.delivery)}:
            yield _fault(bundle.id, "holds hardware of another order or delivery", "one order and delivery a box")
        weight = job.limits.box_tare_g + sum(item.weight_g for item in bundle.items)
        if bundle.weight_g != weight:
            yield _fault(bundle.id, f"weighs {weight} g, not {bundle.weight_g}", "the box and its packs")
        yield from _limits(str(bundle.id), bundle, weight, job.limits)
        yield from _timbers(str(bundle.id), bundle, job.limits)


def _order_of_need(result: StackResult) -> Iterator[FieldFault]:
    for before, after in pairwise(result.bundles):
        if before.order == after.order and before.first_stands > after.first_stands:
            yield _fault(after.id, f"is wanted before {before.id}, listed earlier", "bundles in order of need")


def _proof(result: StackResult) -> Iterator[FieldFault]:
    if result.lower_bound > len(result.bundles):
        yield _fault("lower_bound", f"{result.lower_bound} is above the {len(result.bundles)} bundles", "a bound")
    if result.status == "optimal" and result.lower_bound != len(result.bundles):
        yield _fault("status", "optimal, but the bound is lower", "feasible")


def _contiguous(job: StackJob, result: StackResult) -> Iterator[FieldFault]:
    """Panels of one delivery between the first and the last of a bundle lie in that bundle."""
    home = {lay.piece: bundle for bundle in result.bundles for lay in bundle.pieces}
    seen: dict[tuple[object, ...], Bundle | None] = {}
    closed: set[str] = set()
    for piece in sorted(job.pieces, key=lambda piece: piece.stands):
        bundle = home.get(piece.id)
        if bundle is None:
            continue
        line = (piece.order, piece.delivery, piece.kind, piece.lot)
        last = seen.get(line)
        if last is not None and last.id != bundle.id:
            closed.add(last.id)
        if bundle.id in closed:
            yield _fault(bundle.id, f"{piece.id} stands after pieces of another bundle stood", "runs of the order")
            closed.discard(bundle.id)
        seen[line] = bundle


_KINDS = {"panels": "panel", "trim": "trim", "box": "small"}


def _bundle_faults(path: str, bundle: Bundle, pieces: dict[PieceId, StackPiece], limits: BundleLimits) -> Iterator[FieldFault]:
    laid = [(lay, pieces[lay.piece]) for lay in bundle.pieces]
    if not laid:
        return
    for lay, piece in laid:
        if piece.kind != _KINDS[bundle.kind]:
            yield _fault(path, f"{piece.id} is {piece.kind}, not for {bundle.kind}", "pieces of its own kind")
        if piece.order != bundle.order or piece.delivery != bundle.delivery:
            yield _fault(path, f"{piece.id} is of another order or delivery", "one order and delivery a bundle")
        if piece.lot != laid[0][1].lot:
            yield _fault(path, f"{piece.id} is of another lot than {laid[0][1].id}", "base channel by itself")
        if min(lay.at_nm, lay.across_nm, lay.up_nm) < 0:
            yield _fault(path, f"{piece.id} lies outside the bundle", "positions from zero")
    if bundle.first_stands != min(piece.stands for _, piece in laid):
        yield _fault(path, f"first_stands is {bundle.first_stands}", "the lowest standing number in it")
    weight = sum(piece.weight_g for _, piece in laid) + (limits.box_tare_g if bundle.kind == "box" else 0)
    if bundle.weight_g != weight:
        yield _fault(path, f"weighs {weight} g, not {bundle.weight_g}", "the sum of its pieces")
    yield from _limits(path, bundle, weight, limits)
    if bundle.kind == "panels":
        yield from _panels(path, bundle, laid, limits)
    elif bundle.kind == "trim":
        yield from _trims(path, bundle, laid, limits)
    else:
        yield from _box(path, laid, limits)
    if bundle.kind != "box":
        yield from _measures(path, bundle, laid, limits)
    yield from _timbers(path, bundle, limits)


def _limits(path: str, bundle: Bundle, weight: int, limits: BundleLimits) -> Iterator[FieldFault]:
    if weight > limits.weight_g:
        yield _fault(path, f"{weight} g is over {limits.weight_g} g", "a lighter bundle")
    if bundle.height_nm > limits.height_nm and bundle.kind != "box":
        yield _fault(path, f"{bundle.height_nm} nm is higher than {limits.height_nm} nm", "a lower bundle")
    longest = max(limits.length_nm, limits.spreader_length_nm or 0)
    if bundle.length_nm > longest and bundle.kind != "box":
        yield _fault(path, f"{bundle.length_nm} nm is longer than {longest} nm", "a shorter bundle")
    if limits.length_nm < bundle.length_nm <= longest and not any("spreader" in note for note in bundle.notes):
        yield _fault(path, "is lifted with a spreader, but no note says so", "a note")
    if limits.width_nm is not None and bundle.kind == "panels" and bundle.width_nm > limits.width_nm:
        yield _fault(path, f"{bundle.width_nm} nm is wider than {limits.width_nm} nm", "a narrower bundle")
    if limits.forklift_g is not None and bundle.kind == "panels":
        moment = limits.forklift_g * limits.forklift_centre_nm
        if weight > limits.forklift_g or 2 * moment < weight * bundle.width_nm:
            yield _fault(path, "is over the forklift's load moment", "a lighter or narrower bundle")


def _panels(path: str, bundle: Bundle, laid: list[tuple[Lay, StackPiece]], limits: BundleLimits) -> Iterator[FieldFault]:
    side = limits.overhang_nm if limits.overhang_across_nm is None else limits.overhang_across_nm
    up = 0
    for lay, piece in laid:
        if lay.up_nm != up:
            yield _fault(path, f"{piece.id} lies at {lay.up_nm} nm, not {up}", "each on the one below")
        up += piece.thickness_nm
    for (low_lay, low), (top_lay, top) in pairwise(laid):
        if not low.carries:
            yield _fault(path, f"{low.id} may not carry, but {top.id} lies on it", f"{low.id} on top")
        foot, head = low_lay.at_nm - top_lay.at_nm, top_lay.at_nm + top.length_nm - low_lay.at_nm - low.length_nm
        if max(foot, head) > limits.overhang_nm:
            yield _fault(path, f"{top.id} hangs over {low.id} by {max(foot, head)} nm", f"at most {limits.overhang_nm} nm")
        left, right = low_lay.across_nm - top_lay.across_nm, top_lay.across_nm + top.width_nm - low_lay.across_nm - low.width_nm
        if max(left, right) > side:
            yield _fault(path, f"{top.id} hangs over the side of {low.id} by {max(left, right)} nm", f"at most {side} nm")
    yield from _balance(path, laid)
    if bundle.dunnage_nm:
        yield from _bottom(path, bundle, *laid[0], limits)
    come_off = [piece for _, piece in reversed(laid)]
    aside = {
        piece.id for place, piece in enumerate(come_off) if any(later.stands < piece.stands for later in come_off[place + 1 :])
    }
    yield from _aside(path, bundle, aside, limits)


def _balance(path: str, laid: list[tuple[Lay, StackPiece]]) -> Iterator[FieldFault]:
    weight = moment_twice = 0
    for (low_lay, low), (lay, piece) in reversed(list(pairwise(laid))):
        weight += piece.weight_g
        moment_twice += piece.weight_g * (2 * lay.at_nm + piece.length_nm)
        if not 2 * weight * low_lay.at_nm <= moment_twice <= 2 * weight * (low_lay.at_nm + low.length_nm):
            yield _fault(path, f"what lies on {low.id} tips off it", "the centre of mass over the piece below")


def _trims(path: str, bundle: Bundle, laid: list[tuple[Lay, StackPiece]], limits: BundleLimits) -> Iterator[FieldFault]:
    for lay, piece in laid:
        if lay.across_nm + piece.width_nm > limits.trim_width_nm:
            yield _fault(path, f"{piece.id} reaches past the width of a trim bundle", f"within {limits.trim_width_nm} nm")
    aside = set()
    for place, (lay, piece) in enumerate(laid):
        beside = [other for n, other in enumerate(laid) if n != place and _share_width(lay, piece, *other)]
        for other_lay, other in beside:
            if other_lay.up_nm < lay.up_nm + piece.thickness_nm and lay.up_nm < other_lay.up_nm + other.thickness_nm:
                yield _fault(path, f"{piece.id} and {other.id} overlap", "side by side, or one on the other")
            if other_lay.up_nm < lay.up_nm and other.stands < piece.stands:
                aside.add(piece.id)
        if not lay.up_nm:
            yield from _on_timbers(path, bundle, lay, piece)
            continue
        below = max((pair for pair in beside if pair[0].up_nm < lay.up_nm), key=lambda pair: pair[0].up_nm, default=None)
        if below is None:
            yield _fault(path, f"{piece.id} lies on nothing", "a trim below it")
        elif lay.at_nm + piece.length_nm > below[0].at_nm + below[1].length_nm:
            yield _fault(path, f"{piece.id} is longer than {below[1].id} below it", "the longer below")
        elif not below[0].across_nm <= lay.across_nm <= below[0].across_nm + below[1].width_nm - piece.width_nm:
            yield _fault(path, f"{piece.id} hangs over the side of {below[1].id} below it", "the wider below")
    yield from _aside(path, bundle, aside, limits)


def _share_width(lay: Lay, piece: StackPiece, other_lay: Lay, other: StackPiece) -> bool:
    return lay.across_nm < other_lay.across_nm + other.width_nm and other_lay.across_nm < lay.across_nm + piece.width_nm


def _on_timbers(path: str, bundle: Bundle, lay: Lay, piece: StackPiece) -> Iterator[FieldFault]:
    middle_twice, end = 2 * lay.at_nm + piece.length_nm, lay.at_nm + piece.length_nm
    under = [place for place in bundle.dunnage_nm if lay.at_nm <= place <= end]
    if not any(2 * place <= middle_twice for place in under) or not any(2 * place >= middle_twice for place in under):
        yield _fault(path, f"{piece.id} tips off the timbers under it", "a timber at either side of its middle")


def _aside(path: str, bundle: Bundle, aside: set[PieceId], limits: BundleLimits) -> Iterator[FieldFault]:
    """What comes off before one that stands earlier is named, and no more of it than may be."""
    for missing in sorted(aside - set(bundle.set_aside)):
        yield _fault(path, f"{missing} comes off before one that stands earlier, and is not named", "the order, or its name")
    for extra in sorted(set(bundle.set_aside) - aside):
        yield _fault(path, f"{extra} is named as set aside but need not be", "only what is set aside")
    if len(aside) > limits.set_aside:
        yield _fault(path, f"{len(aside)} pieces are set aside", f"at most {limits.set_aside}")


def _box(path: str, laid: list[tuple[Lay, StackPiece]], limits: BundleLimits) -> Iterator[FieldFault]:
    room = limits.box_length_nm * limits.box_width_nm * limits.box_height_nm
    filled = sum(piece.length_nm * piece.width_nm * piece.thickness_nm for _, piece in laid)
    if filled * 1000 > room * limits.box_fill_permille:
        yield _fault(path, "is filled over the share a box may be", "two boxes")
    longest = max(limits.box_length_nm, limits.box_width_nm, limits.box_height_nm)
    for _, piece in laid:
        if max(piece.length_nm, piece.width_nm, piece.thickness_nm) > longest:
            yield _fault(path, f"{piece.id} is longer than the box", "a trim bundle")


def _measures(path: str, bundle: Bundle, laid: list[tuple[Lay, StackPiece]], limits: BundleLimits) -> Iterator[FieldFault]:
    length = max(lay.at_nm + piece.length_nm for lay, piece in laid)
    width = max(lay.across_nm + piece.width_nm for lay, piece in laid)
    height = max(lay.up_nm + piece.thickness_nm for lay, piece in laid) + limits.dunnage_nm
    if bundle.length_nm != length or bundle.width_nm < width or bundle.height_nm < height:
        yield _fault(path, f"measures {length} x {width} x {height} nm, more than stated", "its real size")
    if min(lay.at_nm for lay, _ in laid) != 0:
        yield _fault(path, "does not begin at its foot end", "the first piece at zero")
    weight = sum(piece.weight_g for _, piece in laid)
    if weight:
        along = sum(piece.weight_g * (2 * lay.at_nm + piece.length_nm) for lay, piece in laid)
        across = sum(piece.weight_g * (2 * lay.across_nm + piece.width_nm) for lay, piece in laid)
        up = sum(piece.weight_g * (2 * (lay.up_nm + limits.dunnage_nm) + piece.thickness_nm) for lay, piece in laid)
        for moment, said, name in (
            (along, bundle.centre_nm, "along"),
            (across, bundle.centre_across_nm, "across"),
            (up, bundle.centre_up_nm, "up"),
        ):
            if abs(moment - 2 * weight * said) > 2 * weight:
                yield _fault(path, f"centre of mass {name} is {moment // (2 * weight)} nm, not {said}", "the real centre")


def _timbers(path: str, bundle: Bundle, limits: BundleLimits) -> Iterator[FieldFault]:
    places = list(bundle.dunnage_nm)
    if not places:
        yield _fault(path, "stands on no dunnage", "timbers under it")
        return
    if not places[0] <= bundle.centre_nm <= places[-1]:
        yield _fault(path, "would tip over its outer timber", "the centre of mass between the timbers")
    if len(bundle.lift_nm) != 2 or not bundle.lift_nm[0] <= bundle.centre_nm <= bundle.lift_nm[1]:
        yield _fault(path, "would tip off the forks", "lift points on both sides of the centre of mass")
    for left, right in pairwise(places):
        if right - left < limits.dunnage_width_nm:
            yield _fault(path, f"timbers at {left} and {right} nm overlap", "timbers apart")
        if right - left > limits.dunnage_every_nm:
            yield _fault(path, f"timbers at {left} and {right} nm are too far apart", f"at most {limits.dunnage_every_nm} nm")


def _bottom(path: str, bundle: Bundle, lay: Lay, piece: StackPiece, limits: BundleLimits) -> Iterator[FieldFault]:
    first, last = lay.at_nm, lay.at_nm + piece.length_nm
    ends = limits.dunnage_from_end_nm
    if bundle.dunnage_nm[0] - first > ends or last - bundle.dunnage_nm[-1] > ends:
        yield _fault(path, "the bottom piece reaches too far past its outer timbers", f"at most {ends} nm")
    if bundle.dunnage_nm[0] < first or bundle.dunnage_nm[-1] > last:
        yield _fault(path, "a timber lies outside the bottom piece", "timbers under it")
    newtons = (bundle.weight_g + bundle.may_carry_g) * 9.80665 / 1000
    square_metres = len(bundle.dunnage_nm) * limits.dunnage_width_nm * piece.width_nm / 1e18
    if newtons > limits.core_stress_pa * square_metres * (1 + 1e-9):
        yield _fault(path, f"presses {newtons / square_metres:.0f} Pa into the foam", f"at most {limits.core_stress_pa} Pa")


def _serials(job: StackJob, result: StackResult) -> Iterator[FieldFault]:
    if job.company_prefix is None:
        return
    codes = [bundle.serial for bundle in result.bundles]
    if len(set(codes)) < len(codes):
        yield _fault("bundles", "a serial code is given twice", "each bundle a code of its own")
    for bundle in result.bundles:
        code = bundle.serial
        digits = [int(sign) for sign in code if sign in "0123456789"]
        if len(code) != 18 or len(digits) != 18 or code[1 : 1 + len(job.company_prefix)] != job.company_prefix:
            yield _fault(bundle.id, f"{code!r} is no code of 18 digits with the company's prefix", "18 digits")
        elif (3 * sum(digits[0:17:2]) + sum(digits[1:17:2]) + digits[17]) % 10:
            yield _fault(bundle.id, f"{code} has a wrong check digit", "the GS1 check digit")
