"""Bundles shared out to a given number of trucks: the largest first, each where a truck can be filled anew with it."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence

from solver.domain.ids import BundleId
from solver.domain.load import Deck, LoadBundle, LoadRules
from solver.loading.fill import CENTRED, TASTES, held_ppm, packed, random_taste

Share = list[LoadBundle]


class Oracle:
    """Answers whether bundles fit one truck, by trying tastes, within a budget of fillings."""

    def __init__(
        self, deck: Deck, rules: LoadRules, width_nm: int, dice: random.Random, *, fillings: int, over: Callable[[], bool]
    ) -> None:
        self.deck, self.rules, self.width_nm = deck, rules, width_nm
        self.left = fillings
        self.even = True
        self._over = over
        self._room = deck.length_nm * width_nm * (rules.height_limit_nm - deck.height_nm)
        self._tastes = [taste for taste in TASTES if taste is not CENTRED]
        self._tastes += [random_taste(dice, skip=False) for _ in range(20)]
        self._known: dict[frozenset[str], bool] = {}

    def spent(self) -> bool:
        """Return whether the budget or the search's time is used up."""
        return self.left <= 0 or self._over()

    def fits(self, share: Share, *, tastes: int) -> bool:
        """Return whether some taste puts all of the share on one truck; the taste that last did so is tried first."""
        if sum(bundle.weight_g for bundle in share) > self.deck.payload_g:
            return False
        if sum(bundle.length_nm * bundle.width_nm * bundle.height_nm for bundle in share) > self._room:
            return False
        key = frozenset(bundle.id for bundle in share)
        if key not in self._known:
            self._known[key] = self._try(sorted(share, key=_backward, reverse=True), tastes)
        return self._known[key]

    def _try(self, backward: Share, tastes: int) -> bool:
        for place, taste in enumerate(self._tastes[:tastes]):
            self.left -= 1
            if packed(backward, self.deck, self.rules, self.width_nm, taste) is not None:
                self._tastes.insert(0, self._tastes.pop(place))
                return True
        return False


def _backward(bundle: LoadBundle) -> tuple[int, int]:
    return bundle.stop, bundle.rank


def shared_out(bundles: Sequence[LoadBundle], trucks: int, oracle: Oracle, dice: random.Random) -> list[Share] | None:
    """Return shares for so many trucks, or None when none was found within the budget.

    First fit by decreasing size, then exchanges: what is left over goes in for something smaller, which then waits.
    """
    size = {bundle.id: held_ppm(bundle, oracle.deck, oracle.rules, oracle.width_nm) for bundle in bundles}
    shares: list[Share] = [[] for _ in range(trucks)]
    oracle.even = not oracle.even
    waiting: Share = []
    for bundle in sorted(bundles, key=lambda bundle: -size[bundle.id] * dice.uniform(0.8, 1.2)):
        _place(bundle, shares, waiting, oracle, dice, size)
    while waiting and not oracle.spent():
        waiting.sort(key=lambda bundle: size[bundle.id])
        bundle = waiting.pop()
        if not (_place(bundle, shares, [], oracle, dice, size) or _exchange(bundle, shares, waiting, oracle, dice, size)):
            waiting.append(bundle)
            _shake(shares, waiting, oracle, dice)
    return None if waiting else shares


def _place(
    bundle: LoadBundle, shares: list[Share], waiting: Share, oracle: Oracle, dice: random.Random, size: Mapping[BundleId, int]
) -> bool:
    sign = 1 if oracle.even else -1  # the emptiest truck first, or the fullest
    order = sorted(
        range(len(shares)), key=lambda place: sign * sum(size[item.id] for item in shares[place]) * dice.uniform(0.9, 1.1)
    )
    for place in order:
        if oracle.spent():
            break
        if oracle.fits([*shares[place], bundle], tastes=6):
            shares[place].append(bundle)
            return True
    waiting.append(bundle)
    return False


def _exchange(
    bundle: LoadBundle, shares: list[Share], waiting: Share, oracle: Oracle, dice: random.Random, size: Mapping[BundleId, int]
) -> bool:
    """Put a bundle in for a smaller one, which waits in its place; the largest such first."""
    most = size[bundle.id]
    pairs = [(share, out) for share in shares for out in share if most < 2 * size[out.id] < 2 * most]
    dice.shuffle(pairs)
    for share, out in sorted(pairs, key=lambda pair: size[pair[1].id])[:24]:
        if oracle.spent():
            return False
        if oracle.fits([*(item for item in share if item is not out), bundle], tastes=4):
            share.remove(out)
            share.append(bundle)
            waiting.append(out)
            return True
    return False


def _shake(shares: list[Share], waiting: Share, oracle: Oracle, dice: random.Random) -> None:
    """Take two bundles off by chance, so that others find a way in."""
    for _ in range(2):
        share = dice.choice(shares)
        if share:
            waiting.append(share.pop(dice.randrange(len(share))))
    oracle.left -= 1
