"""Random buildings, taken off and nested quickly, on plants of all kinds of edges and ways to lie: both hands, all turns."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import Any, Literal

from solver.documents.index import PlanIndex
from solver.domain.building import Building
from solver.domain.cut_plan import Bar, BarPiece, CutPlan, Turn
from solver.domain.piece import Piece
from solver.domain.plan import Plan
from solver.domain.plant import EdgeKind, Lays, Plant
from solver.nesting.assign import assign_blanks, nesting_job, pieces_by_material, remnant_bars
from solver.nesting.blanks import share_blanks
from solver.nesting.nest import nest
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import Nm
from tests.generators.buildings import random_order
from tests.samples import short_timetable

EDGES: tuple[EdgeKind, ...] = ("tongue_groove", "tongue_groove", "half_lap", "spline", "plain")
FACES: tuple[Literal["outside", "inside"], ...] = ("inside", "outside")
SIDES: tuple[Literal["open", "web"], ...] = ("open", "web")


def random_plant(plant: Plant, seed: int) -> Plant:
    """Return the plant with other edges, faces, colours and ways to lie: the same for a seed."""
    rng = random.Random(seed * 31 + 5)
    edges, centred, alike = rng.choice(EDGES), rng.random() < 0.7, rng.random() < 0.5
    tops = rng.random() < 0.4
    families = tuple(
        replace(one, edges=edges, joint_centred=centred, faces_alike=alike, bevel_top=one.use == "wall" and tops)
        for one in plant.families
    )
    lays = Lays(
        panel_saw=rng.choice(FACES),
        bevel_saw=rng.choice(FACES),
        router=rng.choice(FACES),
        trim_saw=rng.choice(SIDES),
        drill=rng.choice(SIDES),
    )
    colours = dict(plant.default_colours)
    if rng.random() < 0.6:
        colours |= {"wall_inside": colours["wall_outside"], "roof_inside": colours["roof_outside"]}
    return replace(plant, families=families, lays=lays, default_colours=colours)


def random_plan(seed: int, plant: Plant) -> PlanIndex:
    """Return a random building's plan. Raises InputError or NoPlan where the plant refuses it."""
    order: Any = random_order(seed)
    order.get("panels", {}).pop("colours", None)
    return quick_plan(read_order(order, plant), plant)


def turned(index: PlanIndex, seed: int) -> PlanIndex:
    """Return the plan with every blank in a turn drawn from those that it may take, on bars with room for that.

    Ends that face one another in parallel lie a kerf apart, so that one cut makes both; others lie 60 mm apart.
    """
    rng = random.Random(seed)
    cuts = tuple(
        replace(cut, bars=tuple(_turned(index, bar, cut.job.kerf_nm, rng) for bar in cut.bars)) for cut in index.plan.cuts
    )
    return PlanIndex(replace(index.plan, cuts=cuts), index.plant)


def _turned(index: PlanIndex, bar: Bar, kerf: int, rng: random.Random) -> Bar:
    made: list[BarPiece] = []
    at = 0
    last: tuple[int, int] = (0, 0)
    for slot in bar.pieces:
        if slot.way in ("right_rip", "drop"):
            made.append(replace(slot, edge_a=made[-1].edge_a, edge_b=made[-1].edge_b))
            continue
        piece = index.pieces[slot.piece]
        turn = slot.turn if slot.way != "whole" else rng.choice(sorted(piece.turns))
        if piece.peak_nm is not None or slot.way != "whole":
            length = slot.edge_a[1] - slot.edge_a[0]
            edges: tuple[tuple[int, int], tuple[int, int]] = ((0, length), (0, length))
        else:
            edges = _in_turn(piece, turn)
        lean, width = edges[1][0] - edges[0][0], piece.width_nm
        parallel = made and lean == last[1] - last[0] and not (piece.foot.tilt_udeg or piece.head.tilt_udeg)
        gap = math.ceil(kerf * math.hypot(lean, width) / width) if parallel else 60_000_000 if made else 0
        shift = (last[0] + gap - edges[0][0]) if parallel else at + gap - min(edges[0][0], edges[1][0])
        edge_a, edge_b = ((Nm(a + shift), Nm(b + shift)) for a, b in edges)
        made.append(replace(slot, turn=turn, edge_a=edge_a, edge_b=edge_b))
        last = int(edge_a[1]), int(edge_b[1])
        at = max(last)
    return replace(bar, pieces=tuple(made), length_nm=Nm(at + 100_000_000), drop_nm=Nm(0))


def _in_turn(piece: Piece, turn: Turn) -> tuple[tuple[int, int], tuple[int, int]]:
    """A piece's extent on the left and the right edge of its blank, turned in it about its own middle (case G4)."""
    a, b = (int(piece.edge_a[0]), int(piece.edge_a[1])), (int(piece.edge_b[0]), int(piece.edge_b[1]))
    if turn in ("end_for_end", "over"):
        a, b = b, a
    if turn in ("end_for_end", "over_end"):
        a, b = (-a[1], -a[0]), (-b[1], -b[0])
    return a, b


def quick_plan(building: Building, plant: Plant) -> PlanIndex:
    """Return a building taken off and nested, rips sharing blanks and small pieces out of drops; nothing bundled."""
    search = Search(seed=1, workers=1, left_s=lambda: 0.0)
    takeoff = take_off(building, plant)
    cuts = []
    for material, mine in pieces_by_material(takeoff.pieces).items():
        blanks = share_blanks(mine, plant, plant.stated_stock)
        job = replace(nesting_job(blanks, plant, plant.stated_stock), time_limit_s=0.0)
        result = nest(job, search)
        bars = assign_blanks(material, job, result, blanks)
        rest = remnant_bars(material, blanks, plant, plant.stated_stock, after=len(bars))
        cuts.append(CutPlan(material=material, job=job, result=result, bars=(*bars, *rest)))
    plan = Plan(
        status="feasible",
        id=f"replay-{building.order}",
        unit=building.unit,
        plant=plant.id,
        takeoffs=(takeoff,),
        stacks=(),
        cuts=tuple(cuts),
        sequences=(),
        slits=(),
        timetable=short_timetable(),
        loads=(),
        proofs=(),
        lower_bound=0.0,
        cost=0.0,
        seconds=0.0,
    )
    return PlanIndex(plan, plant)
