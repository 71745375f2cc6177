"""What stages remark, said in the sheet's language and unit: every note that plans make is known."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from solver.documents.notes import is_known_note, translate_note
from solver.domain.plan import Plan
from solver.reading.read_order import read_order
from tests.languages import ENGLISH, SPANISH
from tests.orders import DEMOS, box, demo, plant, with_gable, with_odd_heads
from tests.samples import demo_plan, plan_of


def notes_of(plan: Plan) -> Iterator[str]:
    for takeoff in plan.takeoffs:
        yield from takeoff.warnings
        for piece in takeoff.pieces:
            yield from piece.notes
    for stacks in plan.stacks:
        yield from stacks.result.notes
        for bundle in stacks.result.bundles:
            yield from bundle.notes
    for part in plan.loads:
        yield from part.result.notes
        for one in part.result.loads:
            yield from one.notes


def measured() -> dict[str, object]:
    """A box whose bolts were poured badly: too far apart, too near an end, beside the channel's middle."""
    order = box()
    bolts = [(100, 76), (2500, 76), (4600, 20), (7900, 76)]
    order["anchors"] = {
        "holes": "as_measured",
        "measured_from": "a",
        "measured": [
            {"id": f"m{n}", "on": "L1.S", "along": along, "across": across} for n, (along, across) in enumerate(bolts)
        ],
    }
    return order


def plans() -> Iterator[Plan]:
    for name in DEMOS:
        yield demo_plan(name)
    for order in (with_odd_heads(box()), with_gable(box()), measured()):
        yield plan_of(read_order(order, plant()))


def test_every_note_that_plans_make_is_said_in_spanish() -> None:
    seen = {text for plan in plans() for text in notes_of(plan)}
    assert len(seen) > 60
    assert {text for text in seen if not is_known_note(text)} == set()
    alike = {text for text in seen if translate_note(SPANISH, text, "in") == text}
    assert alike == set()


def test_orders_told_of_bad_bolts_are_among_them() -> None:
    warnings = plan_of(read_order(measured(), plant())).takeoffs[0].warnings
    assert len(warnings) >= 3
    assert all(is_known_note(text) for text in warnings)
    assert demo("cottage-7")["id"] == "cottage-7"


def test_lengths_are_said_in_the_sheet_s_unit_and_never_as_decimal_inches() -> None:
    long = "R.S-01 is 290.5 in long: over the 288 in that two forks handle, lift with a spreader"
    assert translate_note(ENGLISH, long, "in").startswith("R.S-01 is 24' 2 1/2\" long: over the 24' 0\" that two forks")
    assert translate_note(SPANISH, long, "mm").startswith("R.S-01 mide 7378.7 mm: más de los 7315.2 mm")
    eave = "mark the wall line underneath, 1' 1 1/2\" up from the lower edge of the eave"
    assert translate_note(SPANISH, eave, "mm") == "marcar por debajo la línea del muro, a 342.9 mm del borde inferior del alero"


@pytest.mark.parametrize(
    ("text", "spanish"),
    [
        ("left jamb of parlour", "jamba izquierda de parlour"),
        ("outside of corner a", "exterior de la esquina a"),
        ("trapezoid of slope: finish in the field from the delivered unit", "dintel inclinado de slope: terminar en obra"),
        (
            "foot: 2 cuts, 48.2° from square, bevel 18.4°, then square",
            "pie: 2 cortes, 48.2° desde escuadra, bisel 18.4°, después",
        ),
        ("m0 and m1 as measured are 90 in apart: ask the engineer of record before setting", "m0 y m1 según lo medido distan"),
    ],
)
def test_words_of_the_trade_within_a_note_are_translated_too(text: str, spanish: str) -> None:
    assert translate_note(SPANISH, text, "mm").startswith(spanish)
    assert is_known_note(text)


def test_a_note_that_no_sentence_knows_is_kept_and_noticed() -> None:
    for text in ("something quite new", "something new: ask the engineer of record before setting"):
        assert not is_known_note(text)
    assert translate_note(SPANISH, "something quite new", "mm") == "something quite new"
