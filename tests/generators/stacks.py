"""Random bundling jobs from a seed: small ones to try every way, large ones to time."""

from __future__ import annotations

import random

from solver.domain.bundle import BundleLimits, StackJob, StackPiece
from solver.domain.ids import GroupId, PieceId
from solver.units import INCH, Grams, Nm, grams_from_pounds

LIMITS = BundleLimits(
    weight_g=Grams(int(grams_from_pounds(4_000))),
    height_nm=Nm(46 * INCH),
    length_nm=Nm(288 * INCH),
    overhang_nm=Nm(12 * INCH),
    dunnage_nm=Nm(7 * INCH // 2),
    dunnage_width_nm=Nm(7 * INCH // 2),
    dunnage_every_nm=Nm(60 * INCH),
    dunnage_from_end_nm=Nm(24 * INCH),
)


def piece(
    number: int,
    length_in: float,
    width_in: float = 48,
    thickness_in: float = 6,
    *,
    pounds: float | None = None,
    carries: bool = True,
    group: str = "L1.S",
) -> StackPiece:
    """Return a panel that stands `number`-th; its weight as case S1's panels, 2.262 lb/ft2, unless given."""
    weight = 2.262 * length_in * width_in / 144 if pounds is None else pounds
    return StackPiece(
        id=PieceId(f"P{number:02d}"),
        stands=number,
        length_nm=Nm(round(length_in * INCH)),
        width_nm=Nm(round(width_in * INCH)),
        thickness_nm=Nm(round(thickness_in * INCH)),
        weight_g=Grams(int(grams_from_pounds(weight))),
        group=GroupId(group),
        carries=carries,
    )


def small_job(seed: int, *, set_aside: int = 0, most: int = 12) -> StackJob:
    """Return a job of 1 to `most` panels whose limits bind: mixed sizes, some that may not carry, tight weights."""
    dice = random.Random(seed)
    count = dice.randint(1, most)
    lengths = dice.sample((72, 96, 108, 120, 144, 150, 192, 240), dice.randint(1, 4))
    widths = dice.sample((48, 48, 36, 20, 12), dice.randint(1, 3))
    limits = BundleLimits(
        weight_g=Grams(int(grams_from_pounds(dice.choice((500, 900, 1_600, 4_000))))),
        height_nm=Nm(dice.choice((16, 22, 34, 46)) * INCH),
        length_nm=Nm(288 * INCH),
        overhang_nm=Nm(dice.choice((0, 6, 12, 24)) * INCH),
        dunnage_nm=Nm(7 * INCH // 2),
        dunnage_width_nm=Nm(7 * INCH // 2),
        dunnage_every_nm=Nm(60 * INCH),
        dunnage_from_end_nm=Nm(24 * INCH),
        core_stress_pa=dice.choice((2_000, 24_821)),
        forklift_g=dice.choice((None, Grams(int(grams_from_pounds(900))))),
        set_aside=set_aside,
    )
    pieces = tuple(
        piece(
            number,
            dice.choice(lengths),
            dice.choice(widths),
            dice.choice((4, 6)),
            carries=dice.random() < 0.85,
            group=f"L1.{dice.choice('SENW')}",
        )
        for number in range(1, count + 1)
    )
    return StackJob(unit="in", limits=limits, pieces=pieces, company_prefix="952")


def many_pieces(count: int) -> StackJob:
    """Return a job of so many pieces: wall by wall, four of five panels, the rest trims, one in ten carrying nothing."""
    dice = random.Random(1)
    made = []
    for number in range(1, count + 1):
        panel = piece(
            number,
            dice.choice((96, 100, 104, 108, 120)),
            dice.choice((48, 48, 40, 30)),
            carries=dice.random() < 0.9,
            group=f"L1.W{number // 20}",
        )
        made.append(panel if dice.random() < 0.8 else _trim(panel))
    return StackJob(unit="in", limits=LIMITS, pieces=tuple(made), company_prefix="952")


def _trim(panel: StackPiece) -> StackPiece:
    return StackPiece(
        id=panel.id,
        stands=panel.stands,
        length_nm=panel.length_nm,
        width_nm=Nm(6 * INCH),
        thickness_nm=Nm(2 * INCH),
        weight_g=Grams(6_000),
        group=panel.group,
        kind="trim",
        carries=False,
    )
