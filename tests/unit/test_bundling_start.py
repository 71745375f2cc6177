"""The start box of a demo order: all of its hardware, off the truck before anything else, on the sheet by name."""

from __future__ import annotations

from collections import Counter

from service.catalog import read_plant
from solver.bundling.check import check as check_stack
from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.documents.notes import translate_note
from solver.loading.check import check as check_load
from solver.loading.job import load_job
from solver.loading.load import load
from solver.search import Search
from tests.languages import SPANISH
from tests.samples import demo_plan

NAME = "cottage-7"


def test_all_hardware_is_in_a_start_box_of_each_delivery_and_comes_off_first() -> None:
    takeoff, catalog = demo_plan(NAME).takeoffs[0], read_plant()
    building = takeoff.building
    job = stack_job(takeoff.pieces, catalog, building.deliveries, takeoff.hardware)
    result = stack(job, Search())
    assert check_stack(job, result).faults == ()
    boxed: Counter[str] = Counter()
    for item in job.loose:
        boxed[item.item] += item.quantity
    wanted: Counter[str] = Counter()
    for line in takeoff.hardware:
        wanted[line.item] += line.quantity
    assert boxed == wanted
    starts = {bundle.delivery: bundle for bundle in result.bundles if bundle.items}
    assert set(starts) == {delivery.id for delivery in building.deliveries}
    assert all(item.quantity <= item.packs * item.pack for item in job.loose)
    assert all(bundle.weight_g > catalog.bundle.box_tare_g for bundle in starts.values())

    loads = load_job(result.bundles, building, catalog)
    done = load(loads, Search(left_s=lambda: 0.0))
    assert check_load(loads, done).faults == ()
    first_off = {item.placed[-1].bundle for item in done.loads}
    assert {bundle.id for bundle in starts.values()} <= first_off


def test_the_note_of_a_start_box_is_said_in_spanish_too() -> None:
    takeoff = demo_plan(NAME).takeoffs[0]
    result = stack(stack_job(takeoff.pieces, read_plant(), (), takeoff.hardware), Search())
    assert translate_note(SPANISH, result.bundles[0].notes[0], "mm").startswith("caja de inicio")
