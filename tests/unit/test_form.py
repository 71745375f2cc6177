"""The stored form: what was written reads back as it was, in its own and every older form; HTTP tells it as the codec does."""

from __future__ import annotations

import json
from dataclasses import dataclass, fields
from typing import Any, get_args

import msgspec
import pytest

from service.contracts.floor import Bar, Bundle, Load
from service.contracts.plans import PartStage, PlanManifest
from service.stored_form import (
    FORM,
    UnreadableStored,
    from_stored_text,
    rows_from_stored_texts,
    stored_text_digest,
    stored_to_public_json,
    to_stored_text,
)
from service.usecases.ask.rows import FloorRows
from service.usecases.make.plan import plan_manifest
from service.usecases.stored import CLASSES, plan_contents, plan_from_manifest, written_parts
from solver.codec import encode
from solver.domain.lift import Lift
from solver.domain.plan import Part, Plan
from solver.plan_parts import KINDS, PARTS, iterate_plan_parts, part_claim
from solver.search import Search
from solver.units import Nm
from tests.plans import EPOCH, demo_plant
from tests.service_fakes import building, fake_plan


def small_plan() -> Plan:
    return fake_plan((building("shed-1"),), demo_plant(), Search(seed=1, workers=1, left_s=lambda: 0.0), epoch=EPOCH)


def test_every_part_reads_back_as_it_was_and_is_told_over_http_as_the_codec_tells_it() -> None:
    seen = set()
    for stage, _, part in plan_contents(small_plan(), demo_plant()):
        text = to_stored_text(part)
        assert text.startswith(f"{FORM}{{")
        assert from_stored_text(type(part), text) == part
        assert json.loads(stored_to_public_json(type(part), text)) == json.loads(json.dumps(encode(part)))
        assert CLASSES[stage] is type(part)
        seen.add(stage)
    assert seen == {"plant", *(kind.stage for kind in PARTS)} - {"slit", "floor"}  # of a plan that goes on only


def test_what_was_stored_before_forms_had_numbers_is_read_by_the_codec() -> None:
    for _, _, part in plan_contents(small_plan(), demo_plant()):
        old = json.dumps(encode(part))
        assert from_stored_text(type(part), old) == part
        assert stored_to_public_json(type(part), old) == old


def test_rows_and_manifests_read_back_as_they_were() -> None:
    plan = small_plan()
    lines, bodies = written_parts(plan_contents(plan, demo_plant()))
    manifest = plan_manifest(plan, (), lines)
    assert from_stored_text(PlanManifest, to_stored_text(manifest)) == manifest
    assert [line.digest for line in lines] == [name for name, _ in bodies] == [stored_text_digest(text) for _, text in bodies]
    rows = FloorRows(plan, demo_plant())
    for kind, made in ((Bar, rows.bars()), (Bundle, rows.bundles()), (Load, rows.loads())):
        assert made
        assert [from_stored_text(kind, to_stored_text(row)) for row in made] == list(made)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plank:
    """A class of today: it was called `size` and had no colour two forms ago."""

    length_nm: Nm
    colour: str


UPCASTERS = {
    (1, "Plank"): lambda data: {"length_nm": data["size"]},
    (2, "Plank"): lambda data: {**data, "colour": "bare"},
}


@pytest.mark.parametrize("text", ['1{"size":5}', '2{"length_nm":5}', '3{"length_nm":5,"colour":"bare"}'])
def test_every_older_form_is_brought_to_todays_one_step_after_the_other(text: str) -> None:
    assert from_stored_text(Plank, text, upcasters=UPCASTERS, now=3) == Plank(length_nm=Nm(5), colour="bare")


@pytest.mark.parametrize("text", ['1{"size":5}', '1{"length_nm":"5","colour":"red"}', "1{", "{", '{"size": 5}'])
def test_what_does_not_read_back_is_a_fault_of_ours_that_names_class_and_form(text: str) -> None:
    with pytest.raises(UnreadableStored, match=r"a stored Plank of form [01]"):
        from_stored_text(Plank, text)


def test_the_registry_lists_each_part_of_a_plan_once() -> None:
    held = {item.name for item in fields(Plan)}
    assert {kind.kind for kind in PARTS} == set(get_args(Part)) == set(KINDS)
    assert {kind.held for kind in PARTS} <= held
    assert len({kind.held for kind in PARTS}) == len({kind.stage for kind in PARTS}) == len(PARTS)
    assert {"plant", *(kind.stage for kind in PARTS)} == set(get_args(PartStage)) == set(CLASSES)
    about_parts = {"takeoffs", "stacks", "cuts", "sequences", "slits", "timetable", "loads", "dispatch", "rack", "kept"}
    assert {kind.held for kind in PARTS} == about_parts


def test_a_plan_is_the_same_when_put_together_again_from_its_parts() -> None:
    plan = small_plan()
    lines, _ = written_parts(plan_contents(plan, demo_plant()))
    again = plan_from_manifest(plan_manifest(plan, (), lines), (part for _, part in iterate_plan_parts(plan)))
    wanted: Any = {item.name: getattr(plan, item.name) for item in fields(Plan) if item.name != "proofs"}
    assert {name: getattr(again, name) for name in wanted} == wanted
    assert [part_claim(part).status for part in plan.takeoffs] == ["done"]


def test_the_stored_form_is_plain_json_behind_its_number() -> None:
    text = to_stored_text(Plank(length_nm=Nm(7), colour="ñ"))
    assert (text[: len(str(FORM))], msgspec.json.decode(text[len(str(FORM)) :])) == (
        str(FORM),
        {"length_nm": 7, "colour": "ñ"},
    )


def test_rows_are_read_together_whatever_form_each_has() -> None:
    some = [Lift(by="hands", people=n) for n in (1, 2, 3)]
    texts = [to_stored_text(one) for one in some]
    assert rows_from_stored_texts(Lift, texts) == some == [from_stored_text(Lift, text) for text in texts]
    assert rows_from_stored_texts(Lift, []) == []
    public_form = json.dumps(encode(some[1]))  # form 0
    assert rows_from_stored_texts(Lift, [texts[0], public_form]) == some[:2]
    with pytest.raises(UnreadableStored):
        rows_from_stored_texts(Lift, [texts[0], f"{FORM}{{}}"])
