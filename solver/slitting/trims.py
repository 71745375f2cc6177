"""What a plan draws from coils: trim blanks to slit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from solver.domain.cut_plan import CutPlan
from solver.domain.ids import MaterialId
from solver.domain.material import Material
from solver.domain.plant import Plant, Profile
from solver.domain.slit_plan import SlitJob, StripWanted
from solver.domain.steel import nearest_gauge
from solver.domain.stock import Coil
from solver.units import Nm

MILL_FINISH = "galvanized"
USUAL_COIL_NM = Nm(48 * 25_400_000)  # common practice, no source: where the plant holds no coil of the kind


def slit_jobs(cuts: Sequence[CutPlan], plant: Plant, coils: Sequence[Coil]) -> tuple[tuple[MaterialId, SlitJob], ...]:
    """Return one slitting job for each gauge and colour of the plan's trims: blanks as wide as their profiles' developed
    widths, as long as the bars cut from them and the plant's remake reserve. Materials are "26 ga|slate"."""
    runs: dict[tuple[int, str], dict[str, int]] = defaultdict(lambda: defaultdict(int))
    profiles = {profile.id: profile for profile in plant.profiles}
    for cut in cuts:
        material = Material.parse(cut.material)
        if material.item in profiles:
            profile = profiles[material.item]
            runs[profile.gauge, material.finish or MILL_FINISH][profile.id] += sum(bar.length_nm for bar in cut.bars)
    return tuple(
        (Material.sheet(gauge, colour).id, _job(wanted, profiles, plant, _widest(coils, gauge, colour)))
        for (gauge, colour), wanted in sorted(runs.items())
    )


def _widest(coils: Sequence[Coil], gauge: int, colour: str) -> Nm:
    widths = [coil.width_nm for coil in coils if coil.colour == colour and nearest_gauge(coil.thickness_nm) == gauge]
    return max(widths, default=USUAL_COIL_NM)


def _job(wanted: dict[str, int], profiles: dict[str, Profile], plant: Plant, coil_width_nm: Nm) -> SlitJob:
    strips = tuple(
        StripWanted(id=name, width_nm=profiles[name].blank_nm, length_nm=_with_reserve(run, plant))
        for name, run in sorted(wanted.items())
    )
    return SlitJob(
        unit=plant.unit,
        coil_width_nm=coil_width_nm,
        edge_trim_nm=plant.slit_edge_trim_nm,
        max_strips=plant.slitter_knives,
        strips=strips,
    )


def _with_reserve(run_nm: int, plant: Plant) -> Nm:
    return Nm(run_nm + -(-run_nm * plant.reserve_permille // 1000))
