"""Marked pieces to jobs, and their slots on bars."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

import service
from solver.codec import decode
from solver.domain.cut_plan import NestResult, Remnant
from solver.domain.ids import GroupId, MaterialId, OrderId, PieceId, StockId
from solver.domain.piece import Piece, Role
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.errors import InputError
from solver.nesting.assign import assign_pieces, nesting_jobs
from solver.nesting.check import check
from solver.nesting.nest import nest
from solver.nesting.rack_limits import free_rack_slots, kept_drop_lengths, limit_kept_drops, without_expired_remnants
from solver.search import Search
from solver.units import INCH, Grams, Nm


@pytest.fixture(scope="module")
def plant() -> Plant:
    text = (Path(service.__file__).parent / "data" / "plant.toml").read_text(encoding="utf-8")
    return decode(Plant, tomllib.loads(text), name="plant")


def piece(n: int, material: str, a: float, b: float, *, role: Role = "wall_panel", peak: float | None = None) -> Piece:
    return Piece(
        id=PieceId(f"o/W-{n:02d}"),
        order=OrderId("o"),
        revision=1,
        mark=f"W-{n:02d}",
        part="L1",
        group=GroupId("W"),
        role=role,
        stands=n,
        material=MaterialId(material),
        width_nm=Nm(48 * INCH),
        thickness_nm=Nm(6 * INCH),
        edge_a=(Nm(0), Nm(int(a * INCH))),
        edge_b=(Nm(0), Nm(int(b * INCH))),
        turns=("as_is", "over_end"),
        outline=(),
        weight_g=Grams(1),
        peak_nm=None if peak is None else Nm(int(peak * INCH)),
    )


def test_every_piece_lies_on_one_bar_in_its_own_shape(plant: Plant) -> None:
    wall = [piece(n, "W6|birch|white", 96, 96 + (n % 3) * 12) for n in range(1, 14)]
    wall.append(piece(14, "W6|birch|white", 100, 104, peak=120))
    trim = [piece(n, "cap-6", 50, 50, role="top_cap") for n in range(20, 25)]
    jobs = nesting_jobs([*wall, *trim], plant, plant.stated_stock)
    assert [material for material, _ in jobs] == ["W6|birch|white", "cap-6"]
    placed: list[str] = []
    for (material, job), mine in zip(jobs, (wall, trim), strict=True):
        result = nest(job, Search())
        assert check(job, result).faults == ()
        for bar in assign_pieces(material, job, result, mine):
            by_id = {item.id: item for item in mine}
            for slot in bar.pieces:
                placed.append(slot.piece)
                own = by_id[slot.piece]
                want = 2 * own.peak_nm if own.peak_nm else own.edge_a[1] + own.edge_b[1]
                assert slot.edge_a[1] - slot.edge_a[0] + slot.edge_b[1] - slot.edge_b[0] == want
    assert sorted(placed) == sorted(str(item.id) for item in [*wall, *trim])


def test_bars_on_hand_are_used_before_new_ones_of_the_same_length(plant: Plant) -> None:
    wall = [piece(n, "W6|birch|white", 286.5, 286.5) for n in range(14)]
    ((_, job),) = nesting_jobs(wall, plant, plant.stated_stock)
    result = nest(job, Search())
    used = {str(bar.stock): bar.repeat for bar in result.bars}
    assert used["rack 24 ft (1)"] == 12
    assert sum(used.values()) == 14


def test_bars_laminated_to_length_go_in_whole_feet_to_the_longest_and_have_no_trim(plant: Plant) -> None:
    ((_, job),) = nesting_jobs([piece(1, "W6|birch|white", 479, 479)], plant, plant.stated_stock)
    made = [stock for stock in job.stock if stock.end_trim_nm == 0]
    assert [stock.length_nm // (12 * INCH) for stock in made] == list(range(25, 41))
    result = nest(job, Search())
    assert [bar.stock for bar in result.bars] == ["made 40 ft"]
    assert result.bars[0].pieces[0].edge_a[0] == 0


def test_a_material_that_the_plant_does_not_list_is_refused(plant: Plant) -> None:
    with pytest.raises(InputError):
        nesting_jobs([piece(1, "X9|birch|white", 96, 96)], plant, plant.stated_stock)


def test_pieces_that_are_not_the_jobs_own_are_noticed(plant: Plant) -> None:
    wall = [piece(n, "W6|birch|white", 96, 96) for n in range(3)]
    ((material, job),) = nesting_jobs(wall, plant, plant.stated_stock)
    result: NestResult = nest(job, Search())
    with pytest.raises(ValueError, match="no piece is left"):
        assign_pieces(material, job, result, wall[:2])


def rack(*items: tuple[str, float, str | None]) -> StockSnapshot:
    """A stock of remnants of the wall's material: name, inches, and the day on which each was put away."""
    made = tuple(
        Remnant(id=StockId(name), material=MaterialId("W6|birch|white"), length_nm=Nm(int(inches * INCH)), put_away=day)
        for name, inches, day in items
    )
    return StockSnapshot(remnants=made)


def test_a_remnant_is_used_first_where_that_pays_and_left_where_a_bar_is_cheaper(plant: Plant) -> None:
    stocked = rack(("R1", 100, None), ("R2", 280, None))
    ((_, job),) = nesting_jobs([piece(1, "W6|birch|white", 96, 96)], plant, stocked)
    result = nest(job, Search())
    assert [bar.stock for bar in result.bars] == ["R1"]  # the short one does, at what keeping it is worth
    worth = next(item.cost for item in job.stock if item.id == "R1")
    new = next(item for item in job.stock if item.id == "new 10 ft")
    assert worth is not None and new.cost is not None
    assert worth == pytest.approx(plant.keeping.value * new.cost * 100 / 120, abs=1)
    ((_, job),) = nesting_jobs([piece(n, "W6|birch|white", 96, 96) for n in range(3)], plant, stocked)
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert {bar.stock for bar in result.bars} <= {"R1", "R2"}


def test_remnants_that_have_lain_too_long_are_not_offered(plant: Plant) -> None:
    today = date(2031, 5, 1)
    oldest = (today - timedelta(days=plant.keeping.days)).isoformat()
    older = (today - timedelta(days=plant.keeping.days + 1)).isoformat()
    stocked = without_expired_remnants(rack(("old", 200, older), ("due", 200, oldest), ("undated", 200, None)), plant, today)
    assert [item.id for item in stocked.remnants] == ["due", "undated"]


@pytest.mark.parametrize("slots", range(8))
def test_no_more_drops_are_kept_than_find_a_slot_and_those_worth_most(plant: Plant, slots: int) -> None:
    caps = [piece(n, "cap-6", 70, 70, role="top_cap") for n in range(4)]
    studs = [piece(n, "stud-6", 90, 90, role="stud") for n in range(5)]
    jobs = dict(nesting_jobs([*caps, *studs], plant, plant.stated_stock))
    found = {material: nest(job, Search()) for material, job in jobs.items()}
    before = {material: len(kept_drop_lengths(job, found[material])) for material, job in jobs.items()}
    assert sum(before.values()) > 4
    fewer, plans = limit_kept_drops(jobs, found, slots, lambda job: nest(job, Search()))
    after = {material: len(kept_drop_lengths(job, plans[material])) for material, job in fewer.items()}
    assert sum(after.values()) <= slots
    assert all(check(job, plans[material]).faults == () for material, job in fewer.items())
    if slots >= sum(before.values()):
        assert after == before


def test_slots_are_what_remnants_and_kept_drops_leave(plant: Plant) -> None:
    stocked = rack(("R1", 100, None), ("R2", 280, None))
    plant = replace(plant, keeping=replace(plant.keeping, slots=5))
    ((_, job),) = nesting_jobs([piece(1, "W6|birch|white", 96, 96)], plant, stocked)
    assert free_rack_slots(plant, stocked, []) == 3
    assert free_rack_slots(plant, replace(stocked, drops_kept=2), []) == 1
    assert free_rack_slots(plant, stocked, [(job, nest(job, Search()))]) == 4  # R1 goes, nothing is kept
    assert free_rack_slots(replace(plant, keeping=replace(plant.keeping, slots=1)), stocked, []) == 0
