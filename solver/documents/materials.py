"""Rows of what bars and trims are made from: skins off the coil, coil to slit, core; needed, held, to buy."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from solver.documents.index import PlanIndex
from solver.domain.document import MaterialRow
from solver.domain.material import Material
from solver.domain.plant import PanelFamily
from solver.domain.steel import nearest_gauge
from solver.units import Nm


def material_rows(index: PlanIndex) -> tuple[MaterialRow, ...]:
    """Return skins by colour and width, coil by slit material, core by grade and board: what a plan takes of each.

    Skins are those of the bars that the plan laminates, with the plant's remake reserve; what slitting states has its
    reserve already. What is on hand is drawn once: skins first, then slitting.
    """
    store = _Store(index)
    bars = _laminated(index)
    return (*_skins(index, bars, store), *_coils(index, store), *_cores(index, bars, store))


def is_made_by_plant(index: PlanIndex, material: str) -> bool:
    """Return whether the plant makes bars of a material: laminates panels, or slits and forms what a trim is made from."""
    wanted = Material.parse(material)
    if any(family.id == wanted.item for family in index.plant.families):
        return True
    return any(
        strip.id == wanted.item
        for part in index.plan.slits
        if wanted.finish in ("", Material.parse(part.material).finish)
        for strip in part.job.strips
    )


class _Store:
    """Coil and core in stock, drawn from once."""

    def __init__(self, index: PlanIndex) -> None:
        self.coils = {coil: coil.weight_g for coil in index.stock.coils}
        self.cores = {stock: stock.litres for stock in index.stock.cores}

    def coil(self, colour: str, gauge: int, width_nm: int, weight_g: int) -> tuple[int, tuple[str, ...]]:
        """Draw coil at least that wide; return the grams found, and each coil's id and heat."""
        held, named = 0, []
        for coil, left in self.coils.items():
            if (coil.colour, nearest_gauge(coil.thickness_nm)) == (colour, gauge) and coil.width_nm >= width_nm:
                taken = min(left, weight_g - held)
                if taken > 0:
                    self.coils[coil] = type(coil.weight_g)(left - taken)
                    held += taken
                    named.append(f"{coil.id} ({coil.heat})")
        return held, tuple(named)

    def core(self, grade: str, litres: int) -> int:
        """Draw core of a grade; return the litres found."""
        held = 0
        for stock, left in self.cores.items():
            if stock.core == grade:
                taken = min(left, litres - held)
                self.cores[stock] = left - taken
                held += taken
        return held


def _laminated(index: PlanIndex) -> list[tuple[PanelFamily, tuple[str, ...], int]]:
    """Return each panel material that the plan laminates: its family, the colours of its faces, the length of its bars."""
    families = {family.id: family for family in index.plant.families}
    found: list[tuple[PanelFamily, tuple[str, ...], int]] = []
    for cut in index.plan.cuts:
        material = Material.parse(cut.material)
        fresh = {stock.id for stock in cut.job.stock if stock.count is None}
        run = sum(bar.length_nm for bar in cut.bars if bar.stock in fresh)
        if material.item in families and run:
            found.append((families[material.item], material.colours, run))
    return found


def _skins(index: PlanIndex, bars: list[tuple[PanelFamily, tuple[str, ...], int]], store: _Store) -> Iterator[MaterialRow]:
    runs: dict[tuple[str, int, Nm, int], int] = defaultdict(int)
    for family, colours, run in bars:
        for colour in colours:
            runs[colour, family.skin_gauge, family.developed_nm, family.skin_mg_per_m2] += run
    for (colour, gauge, width, mg_per_m2), bare in sorted(runs.items()):
        run = bare + -(-bare * index.plant.reserve_permille // 1000)
        weight = _grams(run, width, mg_per_m2)
        held, named = store.coil(colour, gauge, width, weight)
        yield MaterialRow(
            kind="skin", item=f"{gauge} ga {colour}", width_nm=width, run_nm=Nm(run), needed=weight, held=held, sources=named
        )


def _coils(index: PlanIndex, store: _Store) -> Iterator[MaterialRow]:
    profiles = {profile.id: profile for profile in index.plant.profiles}
    for part in index.plan.slits:
        known = [profiles[strip.id] for strip in part.job.strips if strip.id in profiles]
        if not part.result.steel_nm or not known:
            continue
        colour, width = Material.parse(part.material).finish, part.job.coil_width_nm
        weight = _grams(part.result.steel_nm, width, known[0].mg_per_m2)
        held, named = store.coil(colour, known[0].gauge, width, weight)
        yield MaterialRow(
            kind="coil",
            item=f"{known[0].gauge} ga {colour}",
            width_nm=width,
            run_nm=part.result.steel_nm,
            needed=weight,
            held=held,
            sources=named,
        )


def _cores(index: PlanIndex, bars: list[tuple[PanelFamily, tuple[str, ...], int]], store: _Store) -> Iterator[MaterialRow]:
    runs: dict[tuple[str, Nm, Nm], int] = defaultdict(int)
    for family, _, run in bars:
        runs[family.core, family.cover_nm, family.thickness_nm] += run
    for (grade, width, thick), run in sorted(runs.items()):
        litres = -(-run * width * thick // 10**24)
        held = store.core(grade, litres)
        yield MaterialRow(kind="core", item=grade, width_nm=width, thickness_nm=thick, run_nm=Nm(run), needed=litres, held=held)


def _grams(length_nm: int, width_nm: int, mg_per_m2: int) -> int:
    return -(-length_nm * width_nm * mg_per_m2 // 10**21)
