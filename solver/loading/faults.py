"""What loading refuses: faults of a job, all at once, and bundles that no deck can take, each named with why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from solver.domain.ids import BundleId
from solver.domain.load import Deck, LoadBundle, LoadJob, LoadRules
from solver.errors import FaultCollector, FieldFault, NoPlan
from solver.loading.finish import best_lawful_slide
from solver.loading.legal import legal_height_nm, usable_width_nm
from solver.loading.packing import Packing
from solver.loading.placement_weights import CENTRED
from solver.units import INCH


def validate(job: LoadJob) -> list[FieldFault]:
    """Return every fault of a job: ids given twice, limits beyond the law without a permit, decks without sense."""
    faults = FaultCollector()
    _twice("bundles", [bundle.id for bundle in job.bundles], faults)
    _twice("decks", [deck.id for deck in job.decks], faults)
    if job.bundles and not job.decks:
        faults.add("decks", "there is none to load on", "at least one deck")
    _rule_faults(job.rules, faults)
    for place, deck in enumerate(job.decks):
        _deck_faults(deck, f"decks[{place}]", job.rules, faults)
    for place, bundle in enumerate(job.bundles):
        _bundle_faults(bundle, f"bundles[{place}]", job.rules.timber_width_nm, faults)
    return faults.found


def _twice(name: str, ids: Sequence[str], faults: FaultCollector) -> None:
    seen: dict[str, int] = {}
    for place, item in enumerate(ids):
        if (first := seen.setdefault(item, place)) != place:
            faults.add(f"{name}[{place}].id", f"{item!r} is the id of {name}[{first}] too", "an id of its own")


def _rule_faults(rules: LoadRules, faults: FaultCollector) -> None:
    if rules.rule_set == "US" and rules.width_limit_nm > 102 * INCH:
        faults.add("rules.width_limit", "is over 102 in (23 CFR 658.15)", "102 in, or permit_width with a permit")
    for name, given in (("permit_width", rules.permit_width_nm), ("permit_gross_g", rules.permit_gross_g)):
        if given is not None and not rules.permit:
            faults.add(f"rules.{name}", "is given without a permit", "the permit's number and route")
    if rules.permit_axles_permille > 1000 and not rules.permit:
        faults.add("rules.permit_axles_permille", "is given without a permit", "the permit's number and route")
    if len(set(rules.unload_from)) < len(rules.unload_from):
        faults.add("rules.unload_from", "names a side twice", "each side once")


def _deck_faults(deck: Deck, path: str, rules: LoadRules, faults: FaultCollector) -> None:
    if deck.height_nm >= legal_height_nm(rules):
        faults.add(f"{path}.height", "leaves no height for a load", "a deck lower than the height limit")
    front = deck.front_axle_nm if deck.front_axle_nm is not None else deck.kingpin_nm
    if deck.axle_group_nm is not None and front is not None and deck.axle_group_nm <= front:
        faults.add(f"{path}.axle_group", "is not behind the front support", "a place behind the kingpin or front axle")
    if deck.tractor is not None and deck.front_axle_nm is not None:
        faults.add(f"{path}.front_axle", "is given beside a tractor", "one of the two")
    given = (deck.axle_group_nm is not None, deck.mass_nm is not None, front is not None)
    if any(given) and not all(given):
        faults.add(path, "gives some of kingpin or front_axle, axle_group and mass", "all three, or none")


def _bundle_faults(bundle: LoadBundle, path: str, timber_nm: int, faults: FaultCollector) -> None:
    for place, timber in enumerate(bundle.dunnage_nm):
        if not 0 <= timber <= bundle.length_nm:
            faults.add(f"{path}.dunnage[{place}]", "lies outside the bundle", "between its ends")
    if any(right - left < timber_nm for left, right in pairwise(bundle.dunnage_nm)):
        faults.add(f"{path}.dunnage", "has timbers out of order or in one another", "rising, a timber's width apart")
    if bundle.centre_nm is not None and bundle.centre_nm > bundle.length_nm:
        faults.add(f"{path}.centre", "lies outside the bundle", "at most its length")
    if bundle.centre_across_nm is not None and bundle.centre_across_nm > bundle.width_nm:
        faults.add(f"{path}.centre_across", "lies outside the bundle", "at most its width")


def refuse_impossible(bundles: Sequence[LoadBundle], decks: Sequence[Deck], rules: LoadRules) -> None:
    """Raise NoPlan naming each bundle that no deck can take."""
    faults = []
    known: dict[LoadBundle, bool] = {}  # of bundles alike
    for bundle in bundles:
        kind = replace(bundle, id=BundleId("-"), rank=0, stop=0, trip=None)
        if kind not in known:
            known[kind] = any(_alone(kind, deck, rules) for deck in decks)
        if not known[kind]:
            faults.append(
                FieldFault(bundle.id, f"no deck can take it: {_why(bundle, decks, rules)}", "a smaller bundle or another deck")
            )
    if faults:
        raise NoPlan(*faults)


def _alone(bundle: LoadBundle, deck: Deck, rules: LoadRules) -> bool:
    packing = Packing([bundle], [deck], rules, seed=1)
    return packing.first_fit(CENTRED) == 1 and best_lawful_slide(packing.trucks()[0]) is not None


def _why(bundle: LoadBundle, decks: Sequence[Deck], rules: LoadRules) -> str:
    if all(bundle.length_nm > deck.length_nm for deck in decks):
        return "it is longer than every deck"
    if all(bundle.width_nm > usable_width_nm(deck, rules) for deck in decks):
        return "it is wider than may be loaded without a permit"
    if all(bundle.height_nm + deck.height_nm > rules.height_limit_nm for deck in decks):
        return "it stands higher than the limit"
    if all(bundle.weight_g > deck.payload_g for deck in decks):
        return "it is heavier than every payload"
    return "its size or its weight on the axles"
