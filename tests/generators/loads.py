"""Random mixed loads from a seed: house kits that fill decks by volume, steel that fills them by weight, and both.

Two in five are houses, two in five steel, one in five mixed (each run of bundles either, evenly); 2 to 60 bundles, evenly; one
stop in three of five, else two or three; one of five sets of sides to unload from; three in ten blocked forward. Panels
come in runs of one elevation: a width and thickness of PANELS, one of six lengths (cut a little shorter in three of five),
2 panels to four full bundles of them. Steel comes in runs of 1 to 6: 10 to 20 ft, 40 to 48 in wide, 12 to 26 in high, 2,500 to
4,000 lb, each bearing 8,000 lb.
"""

from __future__ import annotations

import random
from typing import Literal

from solver.domain.ids import BundleId
from solver.domain.load import Deck, LoadBundle, LoadJob, LoadRules, Tractor
from solver.units import FOOT, INCH, Grams, Nm, grams_from_pounds

Kind = Literal["house", "steel", "mixed"]
Side = Literal["left", "right", "rear"]
SIDES: tuple[tuple[Side, ...], ...] = (("left",), ("right",), ("left", "right"), ("left", "rear"), ("left", "right", "rear"))
PANELS = ((49, 4, 1.9), (49, 6, 2.4), (49, 6, 2.4), (43, 6, 2.4), (43, 8, 2.7))  # width, thickness in, weight lb/ft2
TIMBER = 3.5

TRACTOR = Tractor(
    tare_g=grams_from_pounds(17_500),
    steer_to_drive_nm=Nm(220 * INCH),
    mass_to_drive_nm=Nm(140 * INCH),
    kingpin_to_drive_nm=Nm(8 * INCH),
    drive_spread_nm=Nm(52 * INCH),
)


def flatbed(feet: int, *, cost: float, count: int | None = None) -> Deck:
    """Return a flatbed semi-trailer of so many feet, with axle places of our own."""
    return Deck(
        id=f"flatbed-{feet}",
        length_nm=Nm(feet * FOOT),
        width_nm=Nm(102 * INCH),
        height_nm=Nm(60 * INCH),
        payload_g=grams_from_pounds(46_000),
        tare_g=grams_from_pounds(11_000 + (feet - 48) * 240),
        cost=cost,
        count=count,
        kingpin_nm=Nm(36 * INCH),
        axle_group_nm=Nm((feet * 12 - 84) * INCH),
        mass_nm=Nm((feet * 6 + 20) * INCH),
        axle_spread_nm=Nm(49 * INCH),
        tractor=TRACTOR,
    )


DECKS = (flatbed(48, cost=100.0), flatbed(53, cost=112.0))


def _panels(dice: random.Random) -> list[tuple[float, float, float, float, float]]:
    """Return bundles of one elevation: length, width, height in inches, weight and what each carries in pounds."""
    width, thickness, pounds = dice.choice(PANELS)
    length = dice.choice((96, 120, 144, 192, 240, 288)) - dice.choice((0, 0, 0.5, 1.25, 3))  # cut from stock lengths
    full = int((46 - TIMBER) // thickness)
    made: list[tuple[float, float, float, float, float]] = []
    panels = dice.randint(2, 4 * full)
    count = -(-panels // full)
    for place in range(count):  # as bundling cuts them: fewest, then of like heights
        many = panels * (place + 1) // count - panels * place // count
        weight = many * pounds * length * width / 144
        timbers = max(-(-(length - 48) // 60) + 1, -(-2 * weight // (3.6 * TIMBER * width)))
        carries = max(0.0, 3.6 * TIMBER * width * timbers - weight)
        made.append((length, width, many * thickness + TIMBER, weight, carries))
    return made


def _steel(dice: random.Random) -> list[tuple[float, float, float, float, float]]:
    length = dice.choice((120, 144, 192, 240))
    return [
        (length, dice.choice((40, 44, 48)), dice.randint(12, 26) + TIMBER, dice.randint(2_500, 4_000), 8_000)
        for _ in range(dice.randint(1, 6))
    ]


def random_load(seed: int) -> LoadJob:
    """Return the job of a seed: 2 to about 60 bundles on 48 and 53 ft flatbeds."""
    dice = random.Random(seed)
    kind: Kind = dice.choice(("house", "house", "steel", "steel", "mixed"))
    wanted = dice.randint(2, 60)
    rows: list[tuple[float, float, float, float, float]] = []
    while len(rows) < wanted:
        steel = kind == "steel" or (kind == "mixed" and dice.random() < 0.5)
        rows += _steel(dice) if steel else _panels(dice)
    rows = rows[:wanted]
    stops = dice.choice((1, 1, 1, 2, 3))
    bundles = tuple(
        LoadBundle(
            id=BundleId(f"B{place + 1:02d}"),
            length_nm=Nm(round(length * INCH)),
            width_nm=Nm(round(width * INCH)),
            height_nm=Nm(round(height * INCH)),
            weight_g=Grams(int(grams_from_pounds(round(weight)))),
            rank=place,
            stop=place * stops // wanted,
            may_carry_g=Grams(int(grams_from_pounds(int(carries)))),
        )
        for place, (length, width, height, weight, carries) in enumerate(rows)
    )
    rules = LoadRules(unload_from=dice.choice(SIDES), blocked_forward=dice.random() < 0.3)
    return LoadJob(unit="in", decks=DECKS, bundles=bundles, rules=rules, seed=seed, name=kind)
