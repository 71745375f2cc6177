"""Whether loads hold: taken off in order of need with nothing in the way, supported, legal, strapped, all aboard once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from solver.domain.load import AxleWeight, Deck, Load, LoadBundle, LoadJob, LoadResult, LoadRules, PlacedBundle
from solver.domain.report import Report
from solver.errors import FieldFault
from solver.loading.check.order import CHECKED as ORDER_CHECKED
from solver.loading.check.order import height_faults, order_faults

CHECKED = (
    "every bundle stands on exactly one deck of the job, no deck more often than there are, no two trips on one truck",
    "no bundle overlaps another, none reaches past its deck, the width or the height that is allowed",
    "every bundle stands on the deck or wholly on one bundle, on timbers in one line through all tiers, which bear it",
    "taken off in order of need, first stop first: nothing lies on it, and one side that the site reaches is free",
    "weights by axle group, as stated, are within the limits at departure and after every bundle taken off (where a note "
    "keeps the truck parked: after every stop)",
    "payload, whole vehicle and bridge formula are within the limits; a permit is named where they are raised",
    "the centre of mass is as stated and within the balance limit left to right",
    "tie-downs: enough over every bundle by length and in all by working load, as counted",
    "trucks, cost, bounds and status agree; optimal is said only of trucks that are proved fewest",
    *ORDER_CHECKED,
)
LB = 453.59237
IN = 25_400_000
SLACK_G = 2  # grams: stated weights are whole


@dataclass(frozen=True, slots=True)
class _Box:
    bundle: LoadBundle
    x: tuple[int, int]
    y: tuple[int, int]
    z: tuple[int, int]
    timbers: tuple[int, ...]


def check(job: LoadJob, result: LoadResult) -> Report:
    """Return what was checked of a load result and every fault found."""
    known = {bundle.id: bundle for bundle in job.bundles}
    decks = {deck.id: deck for deck in job.decks}
    faults = [*_proof(job, result)]
    if result.status != "unknown":
        faults += _aboard(job, result)
        faults += order_faults(job, result)
    for load in result.loads:
        deck = decks.get(load.deck)
        if deck is None:
            faults.append(_fault(load.id, f"{load.deck!r} is no deck of the job", "a deck of the job"))
        elif all(placed.bundle in known for placed in load.placed) and load.placed:
            boxes = [_box(placed, known[placed.bundle]) for placed in load.placed]
            faults += _load_faults(load, deck, boxes, job.rules)
            faults += height_faults(load, deck.height_nm, [box.bundle for box in boxes])
    return Report(checked=CHECKED, faults=tuple(faults))


def _fault(path: str, problem: str, fix: str) -> FieldFault:
    return FieldFault(path, problem, fix)


def _box(placed: PlacedBundle, bundle: LoadBundle) -> _Box:
    return _Box(
        bundle,
        (placed.x_nm, placed.x_nm + bundle.length_nm),
        (placed.y_nm, placed.y_nm + bundle.width_nm),
        (placed.z_nm, placed.z_nm + bundle.height_nm),
        tuple(sorted(placed.supports_nm)),
    )


def _aboard(job: LoadJob, result: LoadResult) -> Iterator[FieldFault]:
    where: dict[str, str] = {}
    trips = {bundle.id: bundle.trip for bundle in job.bundles}
    for load in result.loads:
        if not load.placed:
            yield _fault(load.id, "carries nothing", "no empty load")
        for placed in load.placed:
            if placed.bundle not in trips:
                yield _fault(load.id, f"{placed.bundle} is no bundle of the job", "bundles of the job only")
            elif placed.bundle in where:
                yield _fault(load.id, f"{placed.bundle} is on {where[placed.bundle]} too", "each bundle once")
            where[placed.bundle] = load.id
        if len({trips.get(placed.bundle) for placed in load.placed}) > 1:
            yield _fault(load.id, "carries bundles of two trips", "one trip a truck")
    for bundle in job.bundles:
        if bundle.id not in where:
            yield _fault(bundle.id, "is on no truck", "every bundle aboard")
    for deck in job.decks:
        used = sum(load.deck == deck.id for load in result.loads)
        if deck.count is not None and used > deck.count:
            yield _fault(deck.id, f"is used {used} times", f"at most {deck.count}")
    if len({load.id for load in result.loads}) < len(result.loads):
        yield _fault("loads", "an id is given twice", "each load an id of its own")


def _proof(job: LoadJob, result: LoadResult) -> Iterator[FieldFault]:
    if result.status == "unknown":
        if result.loads or result.cost is not None or result.trucks:
            yield _fault("status", "unknown, but loads, trucks or a cost are given", "feasible, or none of them")
        return
    prices = {deck.id: deck.cost for deck in job.decks}
    cost = sum(prices.get(load.deck, 0.0) for load in result.loads)
    if result.cost is None or abs(result.cost - cost) > 1e-6 * max(1.0, cost):
        yield _fault("cost", f"is {cost}, not {result.cost}", "the sum of the decks' costs")
    if result.trucks != len(result.loads):
        yield _fault("trucks", f"is {len(result.loads)}, not {result.trucks}", "the number of loads")
    if result.trucks_lower_bound > len(result.loads) or result.lower_bound > cost * (1 + 1e-9):
        yield _fault("lower_bound", "is above what was done", "a bound")
    if result.status == "optimal" and result.trucks_lower_bound != len(result.loads):
        yield _fault("status", "optimal, but the bound on trucks is lower", "feasible")


def _load_faults(load: Load, deck: Deck, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    yield from _room(load, deck, boxes, rules)
    yield from _support(load, boxes, rules)
    yield from _unloading(load, boxes, rules)
    yield from _weights(load, deck, boxes, rules)
    yield from _balance(load, deck, boxes, rules)
    yield from _straps(load, boxes, rules)


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] < other[1] and other[0] < one[1]


def _room(load: Load, deck: Deck, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    permitted = rules.permit_width_nm if rules.permit else None
    legal = 102 * IN if rules.rule_set == "US" else 2_550_000_000
    width = permitted if permitted is not None else min(deck.width_nm, legal, rules.width_limit_nm)
    high = min(rules.height_limit_nm, 4_000_000_000) if rules.rule_set == "EU" else rules.height_limit_nm
    for box in boxes:
        name = box.bundle.id
        if box.x[0] < 0 or box.x[1] > deck.length_nm:
            yield _fault(load.id, f"{name} reaches past the deck's end", f"within {deck.length_nm} nm")
        if 2 * box.y[0] < deck.width_nm - width or 2 * box.y[1] > deck.width_nm + width:
            yield _fault(load.id, f"{name} reaches past the width of {width} nm", "within it, or a permit")
        if box.z[0] < 0 or deck.height_nm + box.z[1] > high:
            yield _fault(load.id, f"{name} stands higher than {high} nm above the road", "a lower load")
    for place, one in enumerate(boxes):
        for other in boxes[place + 1 :]:
            if _meet(one.x, other.x) and _meet(one.y, other.y) and _meet(one.z, other.z):
                yield _fault(load.id, f"{one.bundle.id} and {other.bundle.id} overlap", "each in its own place")
    if load.height_nm != deck.height_nm + max(box.z[1] for box in boxes):
        yield _fault(load.id, f"height is stated as {load.height_nm} nm", "the top of its highest bundle")


def _own_timbers(box: _Box, rules: LoadRules) -> list[int]:
    length = box.bundle.length_nm
    if box.bundle.dunnage_nm:
        return [box.x[0] + place for place in box.bundle.dunnage_nm]
    inset = min(rules.support_from_end_nm, length // 5)
    gaps = max(1, -(-(length - 2 * inset) // rules.support_every_nm))
    return [box.x[0] + inset + (length - 2 * inset) * step // gaps for step in range(gaps + 1)]


def _support(load: Load, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    above: dict[int, list[int]] = {place: [] for place in range(len(boxes))}
    for place, box in enumerate(boxes):
        name = box.bundle.id
        for line in _own_timbers(box, rules):
            if line not in box.timbers:
                yield _fault(load.id, f"{name} lacks its own timber at {line} nm", "a timber there")
        for left, right in pairwise(box.timbers):
            if right - left < rules.timber_width_nm:
                yield _fault(load.id, f"timbers of {name} at {left} and {right} nm overlap", "timbers apart")
        if box.z[0] == 0:
            continue
        on = [
            other
            for other, low in enumerate(boxes)
            if low.z[1] == box.z[0]
            and max(low.y[0] - box.y[0], box.y[1] - low.y[1]) <= rules.side_overhang_nm
            and _meet(low.x, box.x)
        ]
        held = [other for other in on if all(boxes[other].x[0] <= line <= boxes[other].x[1] for line in box.timbers)]
        if not held:
            yield _fault(load.id, f"{name} is not supported", "wholly on one bundle, timbers and sides")
            continue
        above[held[0]].append(place)
        low = boxes[held[0]]
        for line in box.timbers:
            if all(abs(line - timber) >= rules.timber_width_nm for timber in low.timbers):
                yield _fault(load.id, f"{name} has no timber of {low.bundle.id} in line at {line} nm", "one line")
    for place, box in enumerate(boxes):
        chain = _all_above(place, above)
        for upper, other in enumerate(boxes):
            over = other.z[0] >= box.z[1] and _meet(box.x, other.x) and _meet(box.y, other.y)
            if over and upper not in chain:
                yield _fault(load.id, f"{other.bundle.id} hangs over {box.bundle.id}", "on it, or not over it")
    for place, box in enumerate(boxes):
        on_it = _weight_above(place, above, boxes)
        bears = _bears(box, rules)
        if on_it > bears:
            yield _fault(load.id, f"{box.bundle.id} carries {on_it} g", f"at most {bears} g")


def _all_above(place: int, above: dict[int, list[int]]) -> set[int]:
    return {item for upper in above[place] for item in (upper, *_all_above(upper, above))}


def _weight_above(place: int, above: dict[int, list[int]], boxes: Sequence[_Box]) -> int:
    return sum(boxes[upper].bundle.weight_g + _weight_above(upper, above, boxes) for upper in above[place])


def _bears(box: _Box, rules: LoadRules) -> float:
    if box.bundle.may_carry_g is not None:
        return box.bundle.may_carry_g
    metres2 = len(box.timbers) * rules.timber_width_nm * box.bundle.width_nm / 1e18
    return max(0.0, rules.core_stress_pa * metres2 / 9.80665 * 1000 - box.bundle.weight_g)


def _unloading(load: Load, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    left = list(boxes)
    order = sorted(boxes, key=lambda box: (box.bundle.stop, box.bundle.rank))
    said = [(box.bundle.stop, box.bundle.rank) for box in reversed(boxes)]
    if said != sorted(said):
        yield _fault(load.id, "is not listed in reverse order of need", "the last wanted loaded first")
    else:
        order = list(reversed(boxes))
    for box in order:
        left.remove(box)
        blocked = dict.fromkeys(rules.unload_from, "")
        for other in left:
            name = other.bundle.id
            along, across = _meet(box.x, other.x), _meet(box.y, other.y)
            if along and across and other.z[0] >= box.z[1]:
                yield _fault(load.id, f"{name} lies on {box.bundle.id}, which is wanted first", "the first wanted on top")
            if other.z[1] <= box.z[0]:
                continue
            if along and other.y[1] <= box.y[0] and "left" in blocked:
                blocked["left"] = name
            if along and other.y[0] >= box.y[1] and "right" in blocked:
                blocked["right"] = name
            if across and other.x[0] >= box.x[1] and "rear" in blocked:
                blocked["rear"] = name
        if all(blocked.values()):
            ways = ", ".join(f"{name} from the {side}" for side, name in blocked.items())
            yield _fault(load.id, f"{box.bundle.id} can't come off: in the way are {ways}", "a free side")


def _moment(boxes: Sequence[_Box]) -> tuple[int, float]:
    weight = sum(box.bundle.weight_g for box in boxes)
    moment = sum(
        box.bundle.weight_g * (box.x[0] + (box.bundle.length_nm / 2 if box.bundle.centre_nm is None else box.bundle.centre_nm))
        for box in boxes
    )
    return weight, moment


def _groups(deck: Deck, boxes: Sequence[_Box]) -> dict[str, tuple[float, list[float], bool]]:
    """Return by group: what it carries, where its axles are, and whether it is driven (case S9)."""
    front = deck.front_axle_nm if deck.front_axle_nm is not None else deck.kingpin_nm
    if front is None or deck.axle_group_nm is None or deck.mass_nm is None:
        return {}
    weight, moment = _moment(boxes)
    behind = deck.axle_group_nm - front
    rear = (moment - weight * front + deck.tare_g * (deck.mass_nm - front)) / behind
    ahead = weight + deck.tare_g - rear
    back = _places(deck.axle_group_nm, deck.axles, deck.axle_spread_nm)
    if deck.front_axle_nm is not None:
        return {"front": (ahead, [front] * deck.front_axles, False), "rear": (rear, back, True)}
    if deck.tractor is None:
        return {"coupling": (ahead, [], False), "trailer": (rear, back, False)}
    pull = deck.tractor
    drive_at = front + pull.kingpin_to_drive_nm
    drive = (
        ahead * (pull.steer_to_drive_nm - pull.kingpin_to_drive_nm)
        + pull.tare_g * (pull.steer_to_drive_nm - pull.mass_to_drive_nm)
    ) / pull.steer_to_drive_nm
    return {
        "steer": (ahead + pull.tare_g - drive, [drive_at - pull.steer_to_drive_nm], False),
        "drive": (drive, _places(drive_at, pull.drive_axles, pull.drive_spread_nm), True),
        "trailer": (rear, back, False),
    }


def _places(middle: float, axles: int, spread: float) -> list[float]:
    if axles == 1:
        return [middle]
    return [middle - spread / 2 + spread * axle / (axles - 1) for axle in range(axles)]


def _group_limit(group: str, axles: list[float], driven: bool, deck: Deck, rules: LoadRules) -> float:
    if group == "coupling":
        return float("inf") if deck.coupling_limit_g is None else deck.coupling_limit_g
    spread = max(axles) - min(axles)
    factor = rules.permit_axles_permille / 1000 if rules.permit else 1.0
    if rules.rule_set == "US":
        if len(axles) == 1 or spread <= 40 * IN:
            pounds = 20_000.0
        elif len(axles) == 2 and spread <= 96 * IN:
            pounds = 34_000.0
        else:
            pounds = min(20_000.0 * len(axles), _formula(spread, len(axles)))
        return pounds * LB * factor
    apart = spread / max(1, len(axles) - 1) / 1e9
    if len(axles) == 1:
        tonnes = 11.5 if driven else 10.0
    elif len(axles) == 2:
        far = 18.0 if driven else 20.0
        near = 11.5 if driven else 11.0
        tonnes = near if apart < 1.0 else 16.0 if apart < 1.3 else 18.0 if apart < 1.8 else far
    else:
        tonnes = 21.0 if apart <= 1.3 else 24.0
    return tonnes * 1e6 * factor


def _formula(apart_nm: float, axles: int) -> float:
    """The bridge formula in pounds (23 U.S.C. 127(a)(2)), L to the nearest foot, W to the nearest 500, a tie down."""
    feet = int(apart_nm / (12 * IN) + 0.5)
    raw = 500 * (feet * axles / (axles - 1) + 12 * axles + 36)
    down = raw // 500 * 500
    return down + 500 if raw - down > 250 + 1e-6 else down


def _weights(load: Load, deck: Deck, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    total = sum(box.bundle.weight_g for box in boxes)
    if load.weight_g != total:
        yield _fault(load.id, f"weighs {total} g, not {load.weight_g}", "the sum of its bundles")
    if total > deck.payload_g:
        yield _fault(load.id, f"{total} g is over the payload of {deck.payload_g} g", "a lighter load")
    said: dict[tuple[str, int], AxleWeight] = {(row.group, row.after): row for row in load.axles}
    moments = _judged(load, boxes)
    for after in range(len(boxes)):
        groups = _groups(deck, boxes[: len(boxes) - after])
        for group, (weight, axles, driven) in groups.items():
            limit = _group_limit(group, axles, driven, deck, rules)
            if (weight > limit + SLACK_G or weight < -SLACK_G) and after in moments:
                yield _fault(load.id, f"{group} carries {weight:.0f} g after {after} taken off", f"0 to {limit:.0f} g")
            row = said.pop((group, after), None)
            if row is None or abs(row.weight_g - weight) > SLACK_G:
                yield _fault(load.id, f"{group} after {after} taken off is not stated as {weight:.0f} g", "the real weight")
            elif row.limit_g is not None and abs(row.limit_g - limit) > SLACK_G:
                yield _fault(load.id, f"{group} is stated to carry {row.limit_g} g", f"{limit:.0f} g")
        if after in moments:
            yield from _vehicle(load, deck, groups, after, rules)
    if said:
        yield _fault(load.id, "states axle weights of no group or no moment", "its own groups, after 0 to all but one")


def _judged(load: Load, boxes: Sequence[_Box]) -> set[int]:
    """After how many bundles axles are judged: all, or where a note keeps the truck parked, departure and after stops."""
    if not any("do not move the truck" in note for note in load.notes):
        return set(range(len(boxes)))
    stops = [box.bundle.stop for box in reversed(boxes)]
    return {0} | {after for after in range(1, len(stops)) if stops[after - 1] != stops[after]}


def _vehicle(
    load: Load, deck: Deck, groups: dict[str, tuple[float, list[float], bool]], after: int, rules: LoadRules
) -> Iterator[FieldFault]:
    if not groups or "coupling" in groups:
        return
    places = [place for _, axles, _ in groups.values() for place in axles]
    weights = [weight / len(axles) for weight, axles, _ in groups.values() for _ in axles]
    gross = sum(weights)
    limit = 80_000 * LB
    if rules.rule_set == "EU":
        by_axles = {2: 18, 3: 28, 4: 36} if deck.tractor is not None else {1: 10, 2: 18, 3: 25}
        limit = by_axles.get(len(places), 40 if deck.tractor is not None else 32) * 1e6
    if rules.gross_limit_g is not None:
        limit = min(limit, rules.gross_limit_g)
    if rules.permit and rules.permit_gross_g is not None:
        limit = rules.permit_gross_g
    if gross > limit + SLACK_G:
        yield _fault(load.id, f"the vehicle weighs {gross:.0f} g after {after} taken off", f"at most {limit:.0f} g")
    if rules.rule_set != "US" or rules.permit:
        return
    for first in range(len(places)):
        for last in range(first + 1, len(places)):
            axles, apart = last - first + 1, places[last] - places[first]
            feet = int(apart / (12 * IN) + 0.5)
            allowed = min(80_000.0, _formula(apart, axles))
            if axles == 2 and feet <= 8:
                allowed = 20_000.0 if apart <= 40 * IN else 34_000.0
            if axles == 4 and 36 <= feet <= 38:
                allowed = 68_000.0
            carried = sum(weights[first : last + 1])
            if carried > allowed * LB + SLACK_G:
                yield _fault(
                    load.id,
                    f"axles {first + 1} to {last + 1} carry {carried / LB:.0f} lb over {feet} ft after {after} taken off",
                    f"at most {allowed:.0f} lb by the bridge formula",
                )


def _balance(load: Load, deck: Deck, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    weight, moment = _moment(boxes)
    across = sum(
        box.bundle.weight_g
        * (box.y[0] + (box.bundle.width_nm / 2 if box.bundle.centre_across_nm is None else box.bundle.centre_across_nm))
        for box in boxes
    )
    if abs(moment / weight - load.centre_nm) > 1000 or abs(across / weight - load.centre_across_nm) > 1000:
        yield _fault(load.id, "the centre of mass is not as stated", f"{moment / weight:.0f}, {across / weight:.0f} nm")
    off = abs(across / weight - deck.width_nm / 2)
    if off > rules.balance_permille * deck.width_nm / 1000 + 1000:
        yield _fault(load.id, f"the centre of mass is {off:.0f} nm off the middle", "weights alike left and right")


def _straps(load: Load, boxes: Sequence[_Box], rules: LoadRules) -> Iterator[FieldFault]:
    if load.tiedowns is None:
        yield _fault(load.id, "has no tie-downs", "tie-downs")
        return
    places = load.tiedowns.positions_nm
    feet = 12 * IN
    for box in boxes:
        length, weight = box.bundle.length_nm, box.bundle.weight_g
        if rules.blocked_forward:
            wanted = max(1, -(-length // (10 * feet)))
        elif length > 10 * feet:
            wanted = 2 + -(-(length - 10 * feet) // (10 * feet))
        else:
            wanted = 1 if length <= 5 * feet and weight <= 1100 * LB else 2
        over = sum(box.x[0] <= place <= box.x[1] for place in places)
        if over < wanted:
            yield _fault(load.id, f"{over} tie-downs lie over {box.bundle.id}", f"at least {wanted} (49 CFR 393.110)")
    total = sum(box.bundle.weight_g for box in boxes)
    if 2 * len(places) * rules.tiedown_wll_g < total:
        yield _fault(load.id, f"{len(places)} tie-downs bear less than half the weight", "more (49 CFR 393.106)")
    tied = load.tiedowns
    if tied.required != max(tied.by_length, tied.by_load) or len(places) < tied.required:
        yield _fault(load.id, f"{len(places)} tie-downs, {tied.required} required", "the larger of both counts")
    if tied.by_load != -(-total // (2 * rules.tiedown_wll_g)):
        yield _fault(load.id, f"{tied.by_load} tie-downs by working load", "half the weight over the working load limit")
