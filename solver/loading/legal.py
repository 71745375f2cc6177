"""Legal weights: axle groups, whole vehicles and the bridge formula. Rules change; local codes and permits govern."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from solver.domain.load import Deck, LoadRules
from solver.units import FOOT, INCH, MM, Nm, grams_from_pounds, round_half_up

TANDEM_OVER_NM, TANDEM_TO_NM = 40 * INCH, 96 * INCH  # FHWA Bridge Formula Weights (check W4)
TONNE = 1_000_000


def bridge_lb(feet: int, axles: int) -> int:
    """Return the bridge formula's weight in pounds, to the nearest 500: 23 U.S.C. 127(a)(2), as the formula gives it.

    Printed tables round ties both ways; here a tie goes down, the safer way.
    """
    raw = 500 * (Fraction(feet * axles, axles - 1) + 12 * axles + 36)
    return 500 * math.ceil(raw / 500 - Fraction(1, 2))


def bridge_limit_lb(feet: int, axles: int) -> int:
    """Return what consecutive axles may carry, with what supersedes the formula: 23 U.S.C. 127(a), checks W2 to W4.

    Two axles up to 8 ft apart are a tandem; two consecutive tandems 36 ft or more apart carry 34,000 lb each; nothing
    is over 80,000 lb.
    """
    if axles == 2 and feet <= 8:
        return 34_000
    if axles == 4 and 36 <= feet <= 38:
        return 68_000
    return min(80_000, bridge_lb(feet, axles))


def feet_between(first_nm: int, last_nm: int) -> int:
    """Return a distance in whole feet, nearest, as the published table counts it."""
    return round_half_up(Fraction(abs(last_nm - first_nm), FOOT))


def group_limit_g(axles: int, spread_nm: int, rules: LoadRules, *, driven: bool) -> int:
    """Return what one axle group may carry, under the permit's factor where there is a permit."""
    if rules.rule_set == "US":
        limit = _us_group_lb(axles, spread_nm)
        grams = int(grams_from_pounds(limit))
    else:
        grams = _eu_group_g(axles, spread_nm, driven=driven)
    return grams * (rules.permit_axles_permille if rules.permit else 1000) // 1000


def _us_group_lb(axles: int, spread_nm: int) -> int:
    """Single axle 20,000 lb, tandem 34,000 lb (23 U.S.C. 127(a)); three and more by the bridge formula."""
    if axles == 1 or spread_nm <= TANDEM_OVER_NM:
        return 20_000
    if axles == 2 and spread_nm <= TANDEM_TO_NM:
        return 34_000
    return min(20_000 * axles, bridge_lb(feet_between(0, spread_nm), axles))


def _eu_group_g(axles: int, spread_nm: int, *, driven: bool) -> int:
    """96/53/EC Annex I 3: drive axle 11.5 t, others 10 t; tandems and tridems by their spacing (from memory)."""
    if axles == 1:
        return 11_500_000 if driven else 10 * TONNE
    apart = spread_nm // (axles - 1)
    if axles == 2:
        steps = ((1000, 11.5 if driven else 11), (1300, 16), (1800, 18), (None, 18 if driven else 20))
        tonnes = next(weight for reach, weight in steps if reach is None or apart < reach * MM)
        return int(tonnes * TONNE)
    return (21 if apart <= 1300 * MM else 24) * TONNE


def gross_limit_g(axles: int, rules: LoadRules, *, articulated: bool) -> int:
    """Return what the whole vehicle may weigh: 80,000 lb (23 U.S.C. 127(a)); 40 t on five axles (96/53/EC Annex I 2).

    Fewer axles in the EU from memory of the same annex: 18, 25, 32 t rigid; 36 t on four axles articulated. A local
    limit lowers it; only a permit raises it, and panel bundles are divisible loads (23 CFR 658.5).
    """
    if rules.permit and rules.permit_gross_g is not None:
        return rules.permit_gross_g
    if rules.rule_set == "US":
        limit = int(grams_from_pounds(80_000))
    elif articulated:
        limit = {2: 18, 3: 28, 4: 36}.get(axles, 40) * TONNE
    else:
        limit = {1: 10, 2: 18, 3: 25}.get(axles, 32) * TONNE
    return min(limit, rules.gross_limit_g or limit)


def bridge_rows(places_nm: Sequence[int], weights_g: Sequence[Fraction]) -> list[tuple[int, int, int, int, int]]:
    """Return (first, last, feet, weight, limit) of each run of two and more consecutive axles; 1 is the foremost."""
    made = []
    for first in range(len(places_nm)):
        for last in range(first + 1, len(places_nm)):
            feet = feet_between(places_nm[first], places_nm[last])
            axles = last - first + 1
            if axles == 2 and abs(places_nm[last] - places_nm[first]) <= TANDEM_OVER_NM:
                limit = 20_000
            else:
                limit = bridge_limit_lb(feet, axles)
            weight = round_half_up(sum(weights_g[first : last + 1], Fraction(0)))
            made.append((first + 1, last + 1, feet, weight, int(grams_from_pounds(limit))))
    return made


def legal_width_nm(rules: LoadRules) -> Nm:
    """Return the widest load without a permit, or with one where there is one: 102 in (23 CFR 658.15), 2.55 m (96/53/EC)."""
    if rules.permit and rules.permit_width_nm is not None:
        return rules.permit_width_nm
    legal = 102 * INCH if rules.rule_set == "US" else 2550 * MM
    return Nm(min(legal, rules.width_limit_nm))


def legal_height_nm(rules: LoadRules) -> Nm:
    """Return the highest load: the planner's (no federal limit in the US), at most 4.00 m by 96/53/EC in the EU."""
    return Nm(min(4000 * MM, rules.height_limit_nm)) if rules.rule_set == "EU" else rules.height_limit_nm


def usable_width_nm(deck: Deck, rules: LoadRules) -> int:
    """Return the width that may be loaded: the deck's within the law, or the permit's past it."""
    legal = legal_width_nm(rules)
    return legal if rules.permit and rules.permit_width_nm is not None else min(deck.width_nm, legal)
