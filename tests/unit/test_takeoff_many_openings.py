"""Walls with many openings: the bound that orders the starts to try holds, so that few are looked at."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

import pytest

from solver.domain.plant import LayoutRules, PanelFamily
from solver.takeoff import wall_layout as layout
from solver.takeoff.wall_layout import Bay, BrokenSoftRule, OpeningGap, WallRun, lay_out_wall
from solver.units import MM, Nm
from tests.orders import plant

RULES = LayoutRules()


def family() -> PanelFamily:
    return plant().family("W6")


def gaps_of(spots: Sequence[tuple[float, float]]) -> tuple[OpeningGap, ...]:
    """Openings by start and width in millimetres, all of one height."""
    return tuple(
        OpeningGap(id=f"o{n}", start_nm=round(at * MM), end_nm=round((at + wide) * MM), low_nm=0, high_nm=MM)
        for n, (at, wide) in enumerate(spots)
    )


def weight(found: Sequence[BrokenSoftRule]) -> int:
    return sum(int(getattr(RULES, item.rule)) for item in found)


@pytest.mark.parametrize("seed", range(60))
def test_no_layout_breaks_less_than_its_bound(seed: int) -> None:
    """Random runs, openings, mitres, closing panels and families: each offset's bound against what its layout breaks."""
    rng = random.Random(seed)
    spots, at = [], rng.uniform(0, 400)
    for _ in range(rng.randint(1, 25)):
        wide = rng.choice((30.0, 300.0, 900.0, 2500.0)) * rng.uniform(0.5, 1.5)
        spots.append((at, wide))
        at += wide + rng.choice((20.0, 100.0, 400.0, 3000.0)) * rng.uniform(0.3, 1.5)
    run = WallRun(
        length_nm=round((at + rng.uniform(0, 500)) * MM),
        first_inner_nm=rng.choice((0, -152, 152)) * MM,
        last_inner_nm=rng.choice((0, -152, 152)) * MM,
        gaps=gaps_of(spots),
        closes=rng.choice(("no", "before_last", "last")),
    )
    kind = replace(family(), joint_clear_nm=Nm(rng.choice((0, 80, 152)) * MM), min_leg_nm=Nm(rng.choice((0, 60, 152)) * MM))
    tried = 0
    for least, offset in zip(*layout._least_weights(run, kind, RULES), strict=True):
        bays = layout._bays(run, kind, offset)
        if bays is not None:
            tried += 1
            assert least <= weight(layout.broken_soft_rules(run, kind, bays))
    assert tried or run.length_nm < kind.cover_nm


@pytest.mark.parametrize("count", [80, 500])
def test_few_starts_are_looked_at_however_many_openings(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every start asks of each opening anew: with 500 openings all 2,800 starts took minutes."""
    looked = []
    real = layout.broken_soft_rules

    def counted(run: WallRun, kind: PanelFamily, bays: Sequence[Bay]) -> list[BrokenSoftRule]:
        looked.append(1)
        return real(run, kind, bays)

    monkeypatch.setattr(layout, "broken_soft_rules", counted)
    step = 59_400 / count
    run = WallRun(length_nm=60_000 * MM, first_inner_nm=-152 * MM, last_inner_nm=-152 * MM,
              gaps=gaps_of([(300 + n * step, step / 2) for n in range(count)]))  # fmt: skip
    best = lay_out_wall(run, family(), RULES)
    assert best is not None
    assert len(looked) <= 150
    offsets = list(layout._offsets(run, family()))[:: max(1, count // 40)]
    others = [bays for offset in offsets if (bays := layout._bays(run, family(), offset))]
    assert weight(best.broken) <= min(weight(real(run, family(), bays)) for bays in others)
