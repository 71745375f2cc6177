"""Skins: panel faces cut to length from coils, as the `skins` contract states them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum
from solver.units import Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinCoil:
    """A coil on the floor: its paint batch, its length and what of it is flawed, from its outer end."""

    id: str
    batch: str
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    flaws_nm: Annotated[tuple[tuple[Nm, Nm], ...], Description("half-open, from the outer end: nothing is cut over them")] = ()
    cost: Annotated[float, Minimum(0), Description("of a unit of length used up")] = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinPiece:
    """A length that a face takes so many times."""

    id: str
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    count: Annotated[int, Minimum(1)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinFace:
    """One side of an elevation: best from a single coil. All faces of a group come from one batch."""

    id: str
    group: str
    pieces: Annotated[tuple[SkinPiece, ...], ItemCount(1, 2000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinJob:
    """Faces wanted from coils of one colour, gauge and width; pieces lie across the whole width, cuts take nothing."""

    unit: Unit = field(default="mm", metadata={"always": True})
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    change_nm: Annotated[Nm, Minimum(0), Description("lost at the outer end of every coil that is used")] = Nm(0)
    keep_from_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    keep_value: Annotated[float, Minimum(0), Maximum(1)] = 0.0
    split: Annotated[float, Minimum(0), Description("cost of each coil beyond the first that serves a face")] = 0.0
    coils: Annotated[tuple[SkinCoil, ...], ItemCount(0, 2000)]
    faces: Annotated[tuple[SkinFace, ...], ItemCount(0, 20_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinCut:
    """One piece of a face, and how far from the coil's outer end it begins."""

    face: str
    id: str
    at_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinDraw:
    """What is cut from one coil, in order along it."""

    coil: str
    pieces: tuple[SkinCut, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SkinResult:
    """A plan of draws with its proof: what is used up by the coils' costs, and the faces that take more than one coil."""

    status: Literal["optimal", "feasible", "unknown"]
    draws: tuple[SkinDraw, ...]
    cost: float | None
    splits: Annotated[int, Description("coils beyond the first, over all faces")]
    lower_bound: float
    seconds: float
