"""Do loads say truly how high they stand, and what rides later than it is wanted? Judged from places and ranks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.domain.load import Load, LoadBundle, LoadJob, LoadResult
from solver.errors import FieldFault

CHECKED = (
    "loads of a trip are listed in order of need; a bundle wanted before one on an earlier truck is named, and no other",
    "tiers and the height of the centre of mass are as stated",
)


def order_faults(job: LoadJob, result: LoadResult) -> Iterator[FieldFault]:
    """Yield a fault for each load out of its place in the order of need, or that does not name what is."""
    known = {bundle.id: bundle for bundle in job.bundles}
    first_wanted: dict[str | None, tuple[int, int]] = {}
    last_wanted: dict[str | None, tuple[int, int]] = {}
    for load in result.loads:
        bundles = [known[placed.bundle] for placed in load.placed if placed.bundle in known]
        if not bundles:
            continue
        trip = bundles[0].trip
        first = min((bundle.stop, bundle.rank) for bundle in bundles)
        if first < first_wanted.get(trip, first):
            yield FieldFault(load.id, "carries what is wanted before all on an earlier load", "the truck wanted first, first")
        before = last_wanted.get(trip, (-1, -1))
        late = {bundle.id for bundle in bundles if (bundle.stop, bundle.rank) < before}
        for name in sorted(late - set(load.out_of_order)):
            yield FieldFault(load.id, f"{name} is wanted before one on an earlier truck, and is not named", "its name")
        for name in sorted(set(load.out_of_order) - late):
            yield FieldFault(load.id, f"{name} is named as wanted earlier than it rides, but is not", "only what is")
        first_wanted[trip] = first
        last_wanted[trip] = max(before, *((bundle.stop, bundle.rank) for bundle in bundles))


def height_faults(load: Load, deck_nm: int, bundles: Sequence[LoadBundle]) -> Iterator[FieldFault]:
    """Yield a fault where tiers or the height of the centre of mass are not as stated; bundles as they are placed."""
    pairs = list(zip(load.placed, bundles, strict=True))
    tiers: dict[str, int] = {}
    for placed, bundle in sorted(pairs, key=lambda pair: pair[0].z_nm):
        below = [
            tiers[low.bundle]
            for low, other in pairs
            if low.z_nm + other.height_nm <= placed.z_nm
            and low.x_nm < placed.x_nm + bundle.length_nm
            and placed.x_nm < low.x_nm + other.length_nm
            and low.y_nm < placed.y_nm + bundle.width_nm
            and placed.y_nm < low.y_nm + other.width_nm
        ]
        tiers[placed.bundle] = 1 + max(below, default=0)
    if load.tiers != max(tiers.values()):
        yield FieldFault(load.id, f"{load.tiers} tiers are stated", f"{max(tiers.values())}")
    weight = sum(bundle.weight_g for bundle in bundles)
    moment = sum(
        bundle.weight_g * (placed.z_nm + (bundle.height_nm / 2 if bundle.centre_up_nm is None else bundle.centre_up_nm))
        for placed, bundle in pairs
    )
    centre = deck_nm + moment / weight
    if abs(centre - load.centre_up_nm) > 1000:
        yield FieldFault(load.id, f"the centre of mass is {centre:.0f} nm above the road, not as stated", "the real height")
