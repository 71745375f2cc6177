"""Bundles: the order of standing, reversed, cut into stacks; the first piece to stand lies on top."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.ids import BundleId, GroupId, OrderId, PieceId
from solver.hints import Above, Low
from solver.units import Grams, Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPiece:
    """A piece as bundling sees it: a box that stands `stands`-th, with what it bears."""

    id: PieceId
    stands: Annotated[int, Low(1)]
    length_nm: Annotated[Nm, Above(0)]
    width_nm: Annotated[Nm, Above(0)]
    thickness_nm: Annotated[Nm, Above(0)]
    weight_g: Annotated[Grams, Low(0)]
    order: OrderId | None = None
    group: GroupId | None = None
    kind: Literal["panel", "trim", "small"] = "panel"
    carries: bool = True  # a piece with openings, narrow, or with mitred points may not lie under others


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleLimits:
    """What a bundle may be; height counts the dunnage under it."""

    weight_g: Annotated[Grams, Above(0)]
    height_nm: Annotated[Nm, Above(0)]
    length_nm: Annotated[Nm, Above(0)]
    overhang_nm: Annotated[Nm, Low(0)]  # past the piece below, each end
    dunnage_nm: Annotated[Nm, Low(0)]  # height of the dunnage
    dunnage_width_nm: Annotated[Nm, Above(0)]
    dunnage_every_nm: Annotated[Nm, Above(0)]
    dunnage_from_end_nm: Annotated[Nm, Low(0)]
    core_stress_pa: Annotated[int, Above(0)] = 24_821  # 3.6 psi at 1 %, EPS15: ASTM D6817 (case S1)


@dataclass(frozen=True, slots=True, kw_only=True)
class StackJob:
    """Pieces in order of standing and the limits to stack them within."""

    unit: Unit = field(default="mm", metadata={"always": True})
    limits: BundleLimits
    pieces: tuple[StackPiece, ...]
    time_limit_s: Annotated[float, Low(0)] = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """A piece in its bundle: distance of its foot end from the bundle's foot end, and of its left edge from the left."""

    piece: PieceId
    at_nm: Nm = Nm(0)
    across_nm: Nm = Nm(0)
    up_nm: Nm = Nm(0)  # height of its underside above the dunnage's top


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """A stack of pieces, bottom to top, on dunnage, banded; feet all at one end."""

    id: BundleId
    kind: Literal["panels", "trim", "box"]
    pieces: tuple[Lay, ...]  # bottom first
    first_stands: int  # the lowest standing number in it: how soon it is wanted
    length_nm: Nm
    width_nm: Nm
    height_nm: Nm  # with dunnage
    weight_g: Grams
    order: OrderId | None = None
    groups: tuple[GroupId, ...] = ()
    dunnage_nm: tuple[Nm, ...] = ()  # positions from the foot end; a band over each
    centre_nm: Nm = Nm(0)  # centre of mass from the foot end
    set_aside: tuple[PieceId, ...] = ()  # taken off before one that stands earlier
    serial: str = ""  # serial shipping container code, 18 digits
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StackResult:
    """Bundles in order of need (the first is wanted first), proved fewest when `optimal`."""

    status: Literal["optimal", "feasible", "unknown"]
    bundles: tuple[Bundle, ...]
    lower_bound: int
    seconds: float
    notes: tuple[str, ...] = ()
