"""The table: rigid bodies laid on it, blades through them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[np.float64]
Truths = NDArray[np.bool_]


class Mirror(AssertionError):
    """The paper asks for a way to lie that only the mirror image has."""


@dataclass(frozen=True)
class Body:
    """A rigid body's box: how wide and thick it is, and whether u, z, d turn as a panel's do (else as a cap's)."""

    wide: float
    thick: float
    as_panel: bool = True


@dataclass(frozen=True)
class Lying:
    """A body on the table: which side is at the fence, which is up, which end is at zero; `origin` is the foot's x."""

    body: Body
    near_is_left: bool
    outside_up: bool
    foot_at_zero: bool
    fence_at: float = 0.0  # u of what touches the fence
    origin: float = 0.0

    def __post_init__(self) -> None:
        across = 1 if self.near_is_left else -1
        up = -1 if self.outside_up else 1
        along = 1 if self.foot_at_zero else -1
        if (across * up * along == 1) != self.body.as_panel:
            raise Mirror(
                f"{'outside' if self.outside_up else 'inside'} up, {'left' if self.near_is_left else 'right'} at fence"
            )

    def x(self, z: Numbers) -> Numbers:
        return self.origin + (z if self.foot_at_zero else -z)

    def y(self, u: Numbers) -> Numbers:
        return u - self.fence_at if self.near_is_left else self.fence_at - u

    def h(self, d: Numbers) -> Numbers:
        return self.body.thick - d if self.outside_up else d

    def u_of(self, y: float) -> float:
        return self.fence_at + y if self.near_is_left else self.fence_at - y

    def d_of(self, h: float) -> float:
        return self.body.thick - h if self.outside_up else h


@dataclass(frozen=True)
class Blade:
    """A plane: through two places at one height, leaning through the thickness; the piece is before it or behind it."""

    near: tuple[float, float]  # y, x
    far: tuple[float, float]
    height: float
    tilt: float  # radians
    long_up: bool
    piece_before: bool

    @property
    def slope(self) -> float:
        return (self.far[1] - self.near[1]) / (self.far[0] - self.near[0])

    def at(self, y: Numbers, h: Numbers) -> Numbers:
        """Where the plane is, along the table."""
        lean = math.tan(self.tilt) * math.sqrt(1 + self.slope**2)
        grows = 1 if self.long_up == self.piece_before else -1
        return self.near[1] + self.slope * (y - self.near[0]) + grows * lean * (h - self.height)

    def keeps(self, x: Numbers, y: Numbers, h: Numbers) -> Truths:
        """Whether places are on the piece's side."""
        return x <= self.at(y, h) if self.piece_before else x >= self.at(y, h)

    def bite(self, kerf: float) -> float:
        """How much more room a tilted blade takes than an upright one, square to its line."""
        return kerf / math.cos(self.tilt) - kerf

    def moved(self, kerf: float) -> Blade:
        """The face that the blade leaves on its other side, for the next piece: a kerf on, as nesting leaves room for.

        A tilted blade takes kerf / cos(tilt): what it bites off the next piece is counted by itself, see `bite`.
        """
        on = kerf * math.sqrt(1 + self.slope**2)
        step = on if self.piece_before else -on
        return Blade(
            near=(self.near[0], self.near[1] + step),
            far=(self.far[0], self.far[1] + step),
            height=self.height,
            tilt=self.tilt,
            long_up=not self.long_up,
            piece_before=not self.piece_before,
        )
