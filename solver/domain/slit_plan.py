"""Slitting: strips across a coil, as the `slit` contract states them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Minimum
from solver.units import Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class StripWanted:
    """A strip width and the total run wanted of it (with `whole_runs`: how many strips)."""

    id: str
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitJob:
    """Strips wanted from coils of one width; `edge_trim` is lost on both sides, knives take nothing."""

    unit: Unit = field(default="mm", metadata={"always": True})
    coil_width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    edge_trim_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    max_strips: Annotated[int, Minimum(1)] | None = None
    strips: Annotated[tuple[StripWanted, ...], ItemCount(0, 2000)]
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    whole_runs: bool = False
    min_used_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    setup_costs: tuple[Annotated[float, Minimum(0)], ...] | None = None
    max_patterns: Annotated[int, Minimum(1)] | None = None
    max_runs: (
        Annotated[int, Minimum(1), Description("most runs of any one pattern")]
        | Annotated[
            tuple[Annotated[int, Minimum(1)], ...], Description("most runs of the longest, the second longest, ... run")
        ]
        | None
    ) = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitPattern:
    """How many of each strip lie across the coil, and for what run."""

    strips: Mapping[str, int]
    length_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitResult:
    """A slitting plan with its proof; `steel` is the run of coil used.

    Status and `lower_bound` are of `steel`; where `objective` is given, of that.
    """

    status: Literal["optimal", "feasible", "unknown"]
    patterns: tuple[SlitPattern, ...]
    steel_nm: Nm | None
    lower_bound_nm: Nm
    overrun: Mapping[str, Nm]
    setups: int
    setups_lower_bound: int
    seconds: float
    objective_nm: (
        Annotated[Nm, Description("runs and set-up costs, where the job states costs, whole runs or limits")] | None
    ) = None
    certificate: Annotated[Certificate, Description("what the bound of steel (or objective) rests on")] | None = None
