"""Who lifts a piece, on every paper: the weight large, the guideline as a filter, a machine only where the catalog says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.printing.labels import LabelStyle, labels_pdf
from service.printing.rigging import rigging_pdf
from service.printing.saw import next_words
from service.printing.sheets import PlanSheets
from solver.codec import decode, encode
from solver.documents.index import PlanIndex
from solver.documents.labels import labels_of
from solver.documents.lift_words import guideline_words, lift_advice, lift_words
from solver.documents.rigging import rig_sheets
from solver.documents.saw import saw_sheets
from solver.documents.texts import all_words
from solver.domain.lift import Lift
from solver.domain.plant import Plant
from solver.errors import InputError
from solver.units import Grams, grams_from_pounds
from tests.languages import ENGLISH, SPANISH
from tests.orders import plant
from tests.paper import page_count, page_text, text_boxes
from tests.samples import demo_plan

PANEL = grams_from_pounds(86)  # of 9 ft: two people set it every day (common practice, no source)
MACHINES = ("LIFT BY MACHINE", "LEVANTAR CON MÁQUINA")


def texts(pdf: bytes) -> str:
    return " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())


def test_the_guideline_is_a_filter_and_no_order() -> None:
    """HSE L23, paragraph 120: over 23 kg two lift 30.6 kg, three 34.5; over it the work is assessed, not forbidden."""
    assert plant().lift_limits_g == (23_000, 30_666, 34_500)
    over = plant().lift(PANEL)
    assert over == Lift(by="over", people=3)
    assert lift_words(over, ENGLISH) == "OVER GUIDELINE FOR 3"
    assert lift_advice(over, ENGLISH) == "Over the guideline for 3: lifting aid, or as the site's assessment says"
    assert "máquina" not in lift_advice(over, SPANISH).lower()
    said = guideline_words(plant().lift_limits_g, published=True, language=ENGLISH, unit="in")
    assert "HSE L23, paragraph 120: 1 up to 51 lb, 2 up to 68 lb, 3 up to 76 lb" in said
    assert "filter" in said
    assert "assessment" in said


def test_no_paper_of_the_demo_calls_for_a_machine() -> None:
    made = PlanSheets(demo_plan("cottage-7"), plant(), made="now").all()
    for name in ("labels", "saw", "installation-cottage-7", "rigging"):
        said = texts(made[name]())
        assert not any(words in said for words in MACHINES), name
        assert "OVER GUIDELINE FOR 3" in said, name
    for name in ("labels", "rigging"):
        assert "ifting aid, or as the site's assessment says" in texts(made[name]()), name


def test_a_machine_is_called_for_where_the_catalog_says_from_which_weight_on() -> None:
    hoisted = replace(plant(), hoist_from_g=Grams(60_000))
    assert hoisted.lift(59_999).by == "over"
    assert hoisted.lift(60_000) == Lift(by="machine", people=0)
    index = PlanIndex(demo_plan("cottage-7"), hoisted)
    heavy = max(index.pieces.values(), key=lambda piece: piece.weight_g)
    assert heavy.weight_g >= 60_000
    assert MACHINES[0] in page_text(labels_pdf(labels_of(index, heavy.id), LabelStyle(), title="t"))


def test_the_catalog_may_set_other_limits() -> None:
    other = replace(plant(), two_lift_g=Grams(20_000), team_lift_g=(Grams(40_000), Grams(60_000), Grams(80_000)))
    assert [other.lift(grams) for grams in (20_000, 20_001, 60_001, 80_001)] == [
        Lift(by="hands", people=1),
        Lift(by="hands", people=2),
        Lift(by="hands", people=4),
        Lift(by="over", people=4),
    ]
    index = PlanIndex(demo_plan("cottage-7"), other)
    said = texts(rigging_pdf(rig_sheets(index), PlanSheets(index.plan, other, made="now").setting))
    assert "the plant's catalog: 1 up to 44 lb, 2 up to 88 lb, 3 up to 132 lb, 4 up to 176 lb" in said
    assert "HSE L23" not in said
    by_id = {piece.piece: piece for sheet in saw_sheets(index) for bar in sheet.bars for piece in bar.pieces}
    two = next(piece for piece in by_id.values() if 20_000 < piece.weight_g <= 40_000)
    assert "2 LIFT" in next_words(two, ENGLISH)


@pytest.mark.parametrize(
    ("more", "fault"),
    [
        ({"team_lift_g": [20_000]}, "team_lift_g"),
        ({"team_lift_g": [40_000, 30_000]}, "team_lift_g"),
        ({"hoist_from_g": 20_000}, "hoist_from_g"),
    ],
)
def test_limits_that_cannot_be_meant_are_refused(more: dict[str, object], fault: str) -> None:
    with pytest.raises(InputError, match=fault):
        decode(Plant, encode(plant(), unit="in") | more, name="$", unit="in")


def test_the_weight_is_as_large_as_the_length_on_a_label() -> None:
    index = PlanIndex(demo_plan("cottage-7"), plant())
    heavy = next(piece for piece in index.pieces.values() if not plant().lift(piece.weight_g).alone)
    boxes = text_boxes(labels_pdf(labels_of(index, heavy.id)[:1], LabelStyle(), title="t"))
    (weight,) = (box for box, text in boxes if text.strip().endswith("lb"))
    assert weight[3] - weight[1] >= 17  # points from foot to top: letters of 24 points or more


def test_no_word_for_people_orders_a_machine_but_the_catalog_s() -> None:
    """What was said of every piece over the guideline before."""
    saying = [key for key, words in all_words().items() if any(one in words for one in MACHINES)]
    assert saying == ["lift_machine"]
    assert "or a machine" not in all_words()["caution_lift"][0]
