"""What a plan asks of the plant: every step of the trade, material that must be there, crews, speeds, set-ups, hours."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise

import pytest

from solver.domain.cut_plan import CutPlan
from solver.domain.ids import StockId
from solver.domain.piece import Piece
from solver.domain.plant import People, Plant, Shift, Workplace
from solver.domain.slit_plan import SlitResult
from solver.domain.stock import CoreStock
from solver.domain.timetable import Job, Machine, ScheduleResult, Timetable
from solver.errors import NoPlan
from solver.scheduling.buffers.overfull import overfull_buffers
from solver.scheduling.buffers.repair import compact_timetable
from solver.scheduling.check import check
from solver.scheduling.dispatch import dispatch_by_rule
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.operations import PlantWork, plant_work
from solver.scheduling.plant.steps import setup_seconds
from solver.scheduling.plant.timetable import plant_timetable
from solver.search import Search
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from tests.orders import plant
from tests.samples import demo_plan

EPOCH = datetime.fromisoformat("2031-04-28T06:00:00-06:00")
DAY = 86_400
ORDER = "ell-12"


@cache
def slits() -> dict[str, SlitResult]:
    made = slit_jobs(demo_plan(ORDER).cuts, plant(), plant().stated_stock.coils)
    return {str(material): slit(replace(job, time_limit_s=1.0), Search(workers=1)) for material, job in made}


def work_of(
    catalog: Plant,
    cuts: tuple[CutPlan, ...] | None = None,
    cut_orders: tuple[tuple[str, ...], ...] = (),
    slitted: dict[str, SlitResult] | None = None,
) -> PlantWork:
    plan = demo_plan(ORDER)
    return plant_work(
        takeoffs=plan.takeoffs,
        cuts=plan.cuts if cuts is None else cuts,
        bundles=tuple(bundle for part in plan.stacks for bundle in part.result.bundles),
        slits=slits() if slitted is None else slitted,
        loads=plan.loads,
        plant=catalog,
        stock=catalog.stated_stock,
        epoch=EPOCH,
        cut_orders=cut_orders,
    )


def changed(catalog: Plant, place: str, **values: object) -> Plant:
    places = tuple(replace(one, **values) if one.id == place else one for one in catalog.workplaces)  # type: ignore[arg-type]
    return replace(catalog, workplaces=places)


def bare() -> Plant:
    """The demo plant without stock of anything: every bar is laminated, all core and coil is to come."""
    return replace(plant(), stock_on_hand=(), cores=(), coils=(), coil_lead_s=0)


def steps_of(work: PlantWork, job: Job) -> list[str]:
    return [work.meaning[job.id, n].step for n in range(len(job.operations))]


def lots(work: PlantWork) -> list[Job]:
    return [job for job in work.job.jobs if job.id.startswith("lot ")]


def table_of(work: PlantWork) -> Timetable:
    slots = compact_timetable(work.job, dispatch_by_rule(work.job, "due"))
    value = objective_value(work.job, slots)
    full = overfull_buffers(work.job, slots)
    status = "optimal" if value == 0 and not full else "feasible"
    result = ScheduleResult(
        status=status,  # type: ignore[arg-type]
        objective=value,
        lower_bound=0,
        operations=slots,
        seconds=0.0,
        overfull=full,
    )
    assert [str(fault) for fault in check(work.job, result).faults] == []
    return plant_timetable(work, result, epoch=EPOCH)


def test_every_step_of_the_trade_is_there_in_its_order() -> None:
    work = work_of(bare())
    assert {tuple(steps_of(work, job)) for job in lots(work)} == {("cut core", "film", "laminate")}
    assert all(job.after == (f"season {job.id}",) for job in lots(work))
    panels = {step for job in work.job.jobs if job.id.startswith("finish ") for step in steps_of(work, job)}
    assert panels == {"bevel", "rip", "rout", "clean and check"}
    for job in work.job.jobs:
        steps = steps_of(work, job)
        if job.id.startswith("bar "):
            assert steps == ["cut"]
        elif job.id.startswith("finish "):
            assert steps == [s for s in ("bevel", "rip", "rout", "clean and check") if s in steps]
            assert steps[-1] == "clean and check" and job.after == ("bar " + job.id.removeprefix("finish "),)
        elif job.id.startswith("trim "):
            assert steps == [s for s in ("cut trim", "drill", "form", "mitre") if s in steps]
    trims = {step for job in work.job.jobs if job.id.startswith("trim ") for step in steps_of(work, job)}
    assert trims == {"cut trim", "drill", "form", "mitre"}
    kinds = {job.id.split()[0] for job in work.job.jobs}
    assert kinds == {"season", "lot", "slit", "bar", "finish", "trim", "bundle", "load"}


def test_core_seasons_and_glue_sets_without_a_machine() -> None:
    work = work_of(bare())
    job = lots(work)[0]
    assert [operation.hold for operation in job.operations] == [0, 0, DAY]
    assert [operation.pause for operation in job.operations] == [True, True, False]
    season = next(one for one in work.job.jobs if one.id == f"season {job.id}")
    assert [(operation.hold, operation.pause) for operation in season.operations] == [(5 * DAY, True)]


def test_bars_on_hand_are_cut_without_waiting() -> None:
    first = next(cut for cut in demo_plan(ORDER).cuts if cut.material.startswith("W6"))
    others = [cut for cut in demo_plan(ORDER).cuts if cut is not first]
    taken = tuple(replace(bar, stock=StockId("rack 24 ft (1)")) if n < 3 else bar for n, bar in enumerate(first.bars))
    work = work_of(bare(), (replace(first, bars=taken), *others))
    made = {bar for job in lots(work) for bar in work.meaning[job.id, 0].bars}
    jobs = {job.id: job for job in work.job.jobs}
    waiting = {name.removeprefix("bar ") for name, job in jobs.items() if name.startswith("bar ") and job.after}
    assert waiting == made
    assert {bar.id for bar in taken[:3]} & made == set()
    assert all(f"bar {bar.id}" in jobs for bar in taken[:3])


def test_core_that_is_seasoned_goes_to_what_is_wanted_first_and_the_rest_seasons() -> None:
    some = replace(bare(), cores=(CoreStock(core="EPS Type I", litres=25_000),))
    work = work_of(some)
    fresh = [bool(job.after) for job in lots(work)]
    assert fresh[0] is False and fresh[-1] is True
    assert fresh == sorted(fresh)  # jobs are in the order in which they are wanted


def test_work_waits_for_core_that_is_still_to_season_and_for_coils_on_their_way() -> None:
    ready = (EPOCH + timedelta(days=2)).isoformat()
    core = replace(bare(), cores=(CoreStock(core="EPS Type I", litres=10_000_000, ready=ready),))
    assert {job.release for job in lots(work_of(core))} == {2 * DAY}
    coils = tuple(replace(coil, arrives=(EPOCH + timedelta(days=4)).isoformat()) for coil in plant().coils)
    late = work_of(replace(core, coils=coils))
    assert {job.release for job in lots(late) if "moss" not in job.id} == {4 * DAY}
    fresh = work_of(replace(bare(), coil_lead_s=9 * DAY)).job.jobs  # core seasons while the coils are on their way
    assert {job.release for job in fresh if job.id.startswith("season ")} == {0}
    bought = work_of(replace(core, coil_lead_s=9 * DAY))
    assert {job.release for job in lots(bought)} == {9 * DAY}
    assert {job.release for job in bought.job.jobs if job.id.startswith("slit ")} == {9 * DAY}


def test_trims_wait_for_their_own_coil_only() -> None:
    jobs = {job.id: job for job in work_of(bare()).job.jobs}
    slate = next(job for name, job in jobs.items() if name.startswith("trim eave-6|slate"))
    base = next(job for name, job in jobs.items() if name.startswith("trim base-6"))
    assert slate.after == ("slit 26 ga|slate",)
    moss = {**slits(), "26 ga|moss": slits()["26 ga|slate"]}  # the same profiles in another colour
    again = {job.id: job for job in work_of(bare(), slitted=moss).job.jobs}
    assert "slit 26 ga|moss" in again
    assert again[slate.id].after == ("slit 26 ga|slate",)
    assert base.after == ("slit 18 ga|galvanized",)


def test_trims_go_through_in_lots_and_each_bar_is_in_one() -> None:
    work = work_of(changed(bare(), "trim-saw", lot=4))
    bars = [bar for job in work.job.jobs if job.id.startswith("trim ") for bar in work.meaning[job.id, 0].bars]
    wanted = [
        bar.id for cut in demo_plan(ORDER).cuts for bar in cut.bars if cut.material.partition("|")[0] not in ("W6", "R6", "W4")
    ]
    assert sorted(bars) == sorted(wanted)
    assert max(len(work.meaning[job.id, 0].bars) for job in work.job.jobs if job.id.startswith("trim ")) == 4


def test_a_second_slower_saw_takes_longer_and_shares_the_work() -> None:
    catalog = bare()
    saw = next(place for place in catalog.workplaces if "cut" in place.does)
    slow = replace(saw, id="old-saw", per_cut_s=2 * saw.per_cut_s, per_item_s=2 * saw.per_item_s)
    work = work_of(replace(catalog, workplaces=(*catalog.workplaces, slow)))
    cut = next(job for job in work.job.jobs if job.id.startswith("bar ")).operations[0]
    assert set(cut.on) == {saw.id, "old-saw"}
    assert cut.on[saw.id] < cut.on["old-saw"] <= 2 * cut.on[saw.id]
    table = table_of(work)
    assert {one.machine for one in table.operations if one.step == "cut"} == {saw.id, "old-saw"}


def set_ups_on(work: PlantWork, machine_id: str, step: str) -> set[int]:
    machine: Machine = next(one for one in work.job.machines if one.id == machine_id)
    assert machine.setup is not None
    jobs = {job.id: job for job in work.job.jobs}
    families = {jobs[key[0]].operations[key[1]].family for key, meaning in work.meaning.items() if meaning.step == step}
    return {machine.setup[a][b] for a in families for b in families}


def test_set_ups_follow_thickness_colour_tilt_profile_gauge_and_coil() -> None:
    work = work_of(bare())
    assert set_ups_on(work, "press", "laminate") == {0, 900}  # one thickness in this order, two colours
    assert set_ups_on(work, "bevel-saw", "bevel") | set_ups_on(work, "bevel-saw", "rip") == {0}
    assert set_ups_on(work, "brake", "form") == {0, 900, 900 + 300}
    assert set_ups_on(work, "slitter", "slit") == {0, 1200}


def test_one_saw_cuts_in_the_order_that_keeps_few_bundles_open_and_two_saws_share_the_bars() -> None:
    cut = next(cut for cut in demo_plan(ORDER).cuts if cut.material.startswith("W6"))
    order = [bar.id for bar in cut.bars][::-1]
    table = table_of(work_of(bare(), cut_orders=(tuple(order),)))
    starts = {one.about: one.start_s for one in table.operations if one.step == "cut"}
    assert sorted(order, key=starts.__getitem__) == order
    saw = next(place for place in bare().workplaces if "cut" in place.does)
    two = replace(bare(), workplaces=(*bare().workplaces, replace(saw, id="second-saw")))
    jobs = {job.id: job for job in work_of(two, cut_orders=(tuple(order),)).job.jobs}
    assert not any(name.startswith("bar ") for bar in order for name in jobs[f"bar {bar}"].after)


def test_people_who_are_shared_become_pools_of_their_crews() -> None:
    work = work_of(replace(bare(), people=(People(id="trim crew", count=2, at=("trim-saw", "brake", "no-such-place")),)))
    assert [(pool.id, pool.size, dict(pool.uses)) for pool in work.job.pools] == [("trim crew", 2, {"trim-saw": 1, "brake": 2})]
    assert table_of(work).operations  # checked there: never more than two of them at work


def test_a_press_run_longer_than_any_stretch_without_a_break_is_impossible_and_says_so() -> None:
    with pytest.raises(NoPlan) as refused:
        work_of(changed(bare(), "press", per_run_s=5 * 3600))
    text = str(refused.value.faults[0])
    assert "laminate takes 300 min in one go, open at most" in text


def test_planned_maintenance_and_holidays_close_a_machine() -> None:
    down = changed(bare(), "router", closed=(("2031-04-28T08:00:00-06:00", "2031-04-28T12:00:00-06:00"),))
    router = next(machine for machine in work_of(down).job.machines if machine.id == "router")
    assert any(low <= 2 * 3600 and high >= 6 * 3600 for low, high in router.closed)


def test_hours_are_known_for_as_long_as_the_work_may_take() -> None:
    hour = (Shift(days=("Mon",), start="06:00", end="07:00"),)
    slow = changed(bare(), "clean-bench", shifts=hour, per_item_s=1800)
    table = table_of(work_of(slow))
    closed = next(machine for machine in table.job.machines if machine.id == "clean-bench").closed
    assert max(one.end_s for one in table.operations) < closed[-1][1]


def test_set_ups_and_bars_are_told_with_each_operation() -> None:
    table = table_of(work_of(bare()))
    press = [one for one in table.operations if one.machine == "press"]
    assert {one.setup_s for one in press} == {0, 900}
    assert all(one.bars for one in press)
    assert all(one.bars == (one.about,) for one in table.operations if one.step == "cut")


def test_a_late_truck_tells_why_and_one_in_time_does_not() -> None:
    late = work_of(replace(bare(), seasoning_s=30 * DAY))
    promises = table_of(late).deliveries
    assert all(promise.late_s > 0 for promise in promises)
    for promise in promises:
        assert promise.chain[0].operation.startswith("season lot ")
        assert sum(link.hold_s for link in promise.chain) >= 30 * DAY
    assert all(promise.chain == () for promise in table_of(work_of(plant())).deliveries if promise.late_s == 0)


def test_workplaces_that_only_bevel_take_the_bevels() -> None:
    catalog = bare()
    rip = next(place for place in catalog.workplaces if "rip" in place.does)
    tilting = Workplace(id="tilting-saw", does=("bevel",), shifts=rip.shifts, per_item_s=60)
    work = work_of(replace(catalog, workplaces=(*catalog.workplaces, tilting)))
    for key, meaning in work.meaning.items():
        step = next(job for job in work.job.jobs if job.id == key[0]).operations[key[1]]
        if meaning.step == "bevel":
            assert set(step.on) == {"tilting-saw"}
        if meaning.step == "rip":
            assert set(step.on) == {"bevel-saw"}


def test_what_waits_before_the_saw_and_the_bundle_bay_is_counted_against_the_room() -> None:
    table = table_of(work_of(replace(bare(), before_saw=7, before_bundling=None, glue_hold_s=0)))
    saw, bay = table.waiting
    assert (saw.place, saw.room, bay.place, bay.room) == ("saw", 7, "bundle_bay", None)
    pressed = {bar: one.end_s for one in table.operations if one.step == "laminate" for bar in one.bars}
    cut = {one.about: one.start_s for one in table.operations if one.step == "cut"}
    levels = {time: sum(pressed[bar] <= time < cut[bar] for bar in pressed) for time in pressed.values()}
    assert saw.most == max(levels.values()) == levels[saw.at_s]
    assert 7 < saw.most < len(pressed)  # without a hold the saw starts before all is pressed
    assert bay.most > 0


def test_set_ups_are_between_work_of_one_kind() -> None:
    """A workplace that does several kinds of work is set up within each kind; hand times by the demo catalog."""
    places = {place.id: place for place in plant().workplaces}
    press, brake, slitter = places["press"], places["brake"], places["slitter"]
    assert setup_seconds(press, ("panel", "4", "a", ""), ("panel", "6", "b", "")) == 1200 + 900
    assert setup_seconds(press, ("panel", "4", "a", ""), ("core", "6", "b", "")) == 0
    assert setup_seconds(brake, ("trim", "base-6", "18", ""), ("trim", "cap-6", "20", "")) == 900 + 300
    assert setup_seconds(slitter, ("coil", "26 ga", "slate", ""), ("coil", "26 ga", "moss", "")) == 1200


def _routing_s(piece: Piece) -> int:
    pockets = sum(hole.kind == "pocket" for hole in piece.holes)
    return 240 + 360 * len(piece.cutouts) + 30 * pockets if piece.cutouts or pockets else 0


def test_times_are_those_of_the_catalog() -> None:
    """Reckoned again from what is on the bars: core saw 300 s and 4 s a metre, press 2700 s a lot."""
    work, cuts = work_of(bare()), demo_plan(ORDER).cuts
    bars = {bar.id: bar for cut in cuts for bar in cut.bars}
    pieces = {piece.id: piece for takeoff in demo_plan(ORDER).takeoffs for piece in takeoff.pieces}
    for key, meaning in work.meaning.items():
        step = next(job for job in work.job.jobs if job.id == key[0]).operations[key[1]]
        mine = [bars[name] for name in meaning.bars]
        long = sum(-(-bar.length_nm // 10**9) for bar in mine)
        members = [pieces[item.piece] for bar in mine for item in bar.pieces]
        wanted = {
            "cut core": 300 + 4 * long,
            "film": 120 + 3 * long,
            "laminate": 2700,
            "clean and check": 120 * len(members),
            "cut trim": 60 * len(mine) + 45 * len(members),
            "mitre": 75 * sum(item.edge_a != item.edge_b for bar in mine for item in bar.pieces),
            "cut": 240 + 60 + sum(60 if item.edge_a == item.edge_b else 90 for bar in mine for item in bar.pieces),
            "rout": sum(map(_routing_s, members)),
            "drill": 60 + 18 * sum(len(piece.holes) for piece in members),
        }.get(meaning.step)
        assert wanted is None or set(step.on.values()) == {wanted}, meaning


def test_a_bundle_waits_for_each_of_its_pieces_and_a_delivery_for_the_last_of_its_trucks() -> None:
    work, plan = work_of(bare()), demo_plan(ORDER)
    made_by = {}
    for (job, _), meaning in work.meaning.items():
        if job.startswith(("finish ", "trim ")):
            made_by.update(dict.fromkeys(meaning.bars, job))
    bar_of = {item.piece: bar.id for cut in plan.cuts for bar in cut.bars for item in bar.pieces}
    jobs = {job.id: job for job in work.job.jobs}
    for bundle in plan.stacks[0].result.bundles:
        assert set(jobs[f"bundle {bundle.id}"].after) == {made_by[bar_of[lay.piece]] for lay in bundle.pieces}
    table = table_of(work)
    ends = {one.id.rpartition("/")[0]: one.end_s for one in table.operations if one.step == "load"}
    assert max(len(wanted.jobs) for wanted in work.deliveries.values()) > 1
    for promise in table.deliveries:
        assert promise.done_s == max(ends[name] for name in work.deliveries[promise.order, promise.delivery].jobs)


def small_rooms(saw: int | None, bay: int | None) -> PlantWork:
    return work_of(replace(bare(), before_saw=saw, before_bundling=bay, seasoning_s=0))


def test_small_rooms_hold_work_back_and_the_timetable_stays_sound() -> None:
    """Later, never unsound, and never over the room: the timetable's own check and the count agree. Three lots, 28 bars."""
    ends = {}
    for size in (None, 24, 20, 16):
        table = table_of(small_rooms(size, None))
        saw = table.waiting[0]
        assert (saw.room, saw.over) == (size, None)
        assert size is None or saw.most <= size
        assert [room.size for room in table.job.rooms] == ([] if size is None else [size])
        ends[size] = max(one.end_s for one in table.operations if one.step == "load")
    assert table_of(small_rooms(None, None)).waiting[0].most == 28
    assert ends[None] < ends[24] < ends[20] < ends[16]


def test_room_for_less_than_any_order_of_work_needs_is_told_and_the_plan_still_comes_out() -> None:
    """A lot of ten bars in a room for four: what is too many is counted here from the operations, instant by instant."""
    table = table_of(small_rooms(4, 3))
    saw, bay = table.waiting
    assert (saw.room, bay.room) == (4, 3) and table.job.soft_rooms
    assert [room.size for room in table.job.rooms] == [4, 3]
    assert saw.most >= 10 and bay.most > 3
    pressed = {bar: one.end_s for one in table.operations if one.step == "laminate" for bar in one.bars}
    cut = {one.about: one.start_s for one in table.operations if one.step == "cut"}
    times = sorted({*pressed.values(), *cut.values()})
    there = {time: sum(pressed[bar] <= time < cut[bar] for bar in pressed) for time in times}
    full = [(low, high) for low, high in pairwise(times) if there[low] > 4]
    assert saw.over is not None and (saw.over.most, saw.over.at) == (max(there.values()), saw.at_s)
    assert (saw.over.since, saw.over.until) == (full[0][0], full[-1][1])
    assert saw.over.time == sum(high - low for low, high in full)
    assert table.result.overfull == (saw.over, bay.over)
    assert table.result.status == "feasible"


def test_the_demo_plants_rooms_make_nothing_late() -> None:
    assert (plant().before_saw, plant().before_bundling) == (300, 400)
    with_rooms, without = table_of(work_of(plant())), table_of(work_of(replace(plant(), before_saw=None, before_bundling=None)))
    assert [one.id for one in with_rooms.job.rooms] == ["saw", "bundle_bay"]
    assert [one.done_s for one in with_rooms.deliveries] == [one.done_s for one in without.deliveries]
    assert all(one.over is None for one in with_rooms.waiting)
