"""The steps that bars and trims take through the plant, each with its time on every machine that can do it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from solver.domain.cut_plan import Bar
from solver.domain.ids import BarId, PieceId
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plant import Plant, Workplace
from solver.domain.timetable import Job, Operation

METRE_NM = 1_000_000_000
UNBROKEN = ("laminate",)  # a press run may not pause: the glue sets
Key = tuple[str, str, str, str]  # kind of work, and three things that a machine may be set up for
Step = tuple[str, Operation | None]  # its name; nothing where no machine of the plant does it or nothing is to be done


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationMeaning:
    """What an operation is: for which order (empty: several), which step, on what, on which bars."""

    order: str
    step: str
    about: str
    bars: tuple[BarId, ...] = ()


@dataclass(slots=True)
class PlantJobs:
    """The jobs of a plan in the making, and what each of their operations means."""

    plant: Plant
    jobs: dict[str, Job] = field(default_factory=dict)
    meaning: dict[tuple[str, int], OperationMeaning] = field(default_factory=dict)
    families: dict[Key, int] = field(default_factory=dict)

    def places(self, *steps: str) -> list[Workplace]:
        """Return the workplaces that do any of these steps."""
        return [place for place in self.plant.workplaces if any(step in place.does for step in steps)]

    def step(
        self, name: str, places: Iterable[Workplace], key: Key, seconds: Callable[[Workplace], int], *, hold: int = 0
    ) -> Step:
        """Return a step on the first machines that can do it, as long as `seconds` says for each."""
        on = {place.id: seconds(place) for place in places}
        family = self.families.setdefault(key, len(self.families))
        return name, (Operation(on=on, family=family, hold=hold, pause=name not in UNBROKEN) if on else None)

    def add(
        self,
        job_id: str,
        steps: Iterable[Step],
        *,
        order: str = "",
        about: str,
        bars: tuple[BarId, ...] = (),
        after: Iterable[str] = (),
        release: int = 0,
        due: int | None = None,
        weight: int = 1,
    ) -> None:
        """Add a job of the steps that something can do; jobs that are not there are not waited for."""
        real = [(name, operation) for name, operation in steps if operation is not None]
        waits = tuple(sorted({other for other in after if other in self.jobs}))
        if not real:
            return
        for index, (name, _) in enumerate(real):
            self.meaning[job_id, index] = OperationMeaning(order=order, step=name, about=about, bars=bars)
        operations = tuple(operation for _, operation in real)
        self.jobs[job_id] = Job(id=job_id, operations=operations, after=waits, release=release, due=due, weight=weight)


def whole_metres(length_nm: int) -> int:
    """Return a length in whole metres, rounded up."""
    return -(-length_nm // METRE_NM)


def season_step(work: PlantJobs, lot: list[Bar]) -> Step:
    """Return the step that sets fresh core out to season; it seasons in closed hours too, and needs no skins yet."""

    def run(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * len(lot)

    return work.step("season core", work.places("season"), ("season", "", "", ""), run, hold=work.plant.seasoning_s)


def lot_steps(work: PlantJobs, lot: list[Bar], material: str, thickness: str) -> list[Step]:
    """Return what a lot of bars takes until it can be cut: core cut, skins filmed, laminated, glue set."""
    long, count, colours = sum(whole_metres(bar.length_nm) for bar in lot), len(lot), Material.parse(material).finish

    def run(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * count + place.per_metre_s * long

    return [
        work.step("cut core", work.places("cut_core"), ("core", thickness, "", ""), run),
        work.step("film", work.places("film"), ("film", "", colours, ""), run),
        work.step("laminate", work.places("laminate"), ("panel", thickness, colours, ""), run, hold=work.plant.glue_hold_s),
    ]


def bar_steps(work: PlantJobs, bar: Bar, members: list[Piece], thickness: str) -> list[Step]:
    """Return what a bar's pieces take: cut apart, ripped or bevelled, routed, cleaned and checked."""
    square = sum(1 for item in bar.blanks if item.edge_a == item.edge_b)
    angled = len(bar.blanks) - square
    ripped = [piece for piece in members if piece.left.kind != "joint" or piece.right.kind != "joint"]
    tilts = sorted({edge.bevel_udeg for piece in ripped for edge in (piece.left, piece.right) if edge.kind == "mitre"})
    long = sum(whole_metres(piece.length_nm) for piece in ripped)
    routed = [piece for piece in members if piece.cutouts or any(hole.kind == "pocket" for hole in piece.holes)]
    openings = sum(len(piece.cutouts) for piece in routed)
    pockets = sum(1 for piece in routed for hole in piece.holes if hole.kind == "pocket")

    def cut(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s + place.per_cut_s * (square + 1) + place.per_angled_cut_s * angled

    def rip(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * len(ripped) + place.per_metre_s * long

    def rout(place: Workplace) -> int:
        own = place.per_item_s * len(routed) + place.per_opening_s * openings + place.per_pocket_s * pockets
        return place.per_run_s + own

    def clean(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * len(members)

    saw_key = ("cut", thickness, "", "angled" if angled else "square")
    bevels = (work.places("bevel") or work.places("rip")) if tilts else work.places("rip")
    rip_key = ("rip", "", "", ",".join(str(tilt) for tilt in tilts) or "square")
    return [
        work.step("cut", work.places("cut"), saw_key, cut),
        work.step("bevel" if tilts else "rip", bevels if ripped else [], rip_key, rip),
        work.step("rout", work.places("rout") if routed else [], ("rout", "", "", ""), rout),
        work.step("clean and check", work.places("clean"), ("clean", "", "", ""), clean),
    ]


def trim_steps(work: PlantJobs, bars: list[Bar], pieces: Mapping[PieceId, Piece], profile_id: str) -> list[Step]:
    """Return what some bars of one profile take: cut apart, punched or drilled, formed, mitred."""
    profile = next((item for item in work.plant.profiles if item.id == profile_id), None)
    bends, gauge = (profile.bends, str(profile.gauge)) if profile is not None else (0, "")
    members = [pieces[item.piece] for bar in bars for item in bar.pieces]
    holes = sum(len(piece.holes) for piece in members)
    mitred = sum(1 for bar in bars for item in bar.pieces if item.edge_a != item.edge_b)
    key = ("trim", profile_id, gauge, "")

    def cut(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * len(bars) + place.per_cut_s * len(members)

    def drill(place: Workplace) -> int:
        return place.per_run_s + place.per_hole_s * holes

    def form(place: Workplace) -> int:
        return place.per_run_s + (place.per_item_s + place.per_bend_s * bends) * len(members)

    def mitre(place: Workplace) -> int:
        return place.per_run_s + place.per_angled_cut_s * mitred

    return [
        work.step("cut trim", work.places("cut_trim"), key, cut),
        work.step("drill", work.places("drill", "punch") if holes else [], ("drill", "", "", ""), drill),
        work.step("form", work.places("form") if bends else [], key, form),
        work.step("mitre", work.places("mitre") if mitred else [], key, mitre),
    ]


def setup_seconds(place: Workplace, before: Key, after: Key) -> int:
    """Return the seconds of set-up between two kinds of work: thickness, colour and angle, or profile and gauge, or coil."""
    if before[0] != after[0]:
        return 0
    first, second, third = (a != b for a, b in zip(before[1:], after[1:], strict=True))
    if before[0] == "trim":
        return (place.setup_profile_s if first else 0) + (place.setup_gauge_s if second else 0)
    if before[0] == "coil":
        return place.setup_coil_s if first or second else 0
    seconds = place.setup_thickness_s if first else 0
    seconds += place.setup_colour_s if second else 0
    return seconds + (place.setup_angle_s if third else 0)
