"""Every text of every template has its Spanish, with the same names to fill in; and every page asks one question."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

import pytest
from jinja2 import Environment, nodes

from service.stations import views
from service.stations.pages import TEMPLATES, feet
from service.stations.spanish import SPANISH
from service.stations.words import say, spoken
from solver.units import FOOT, INCH, MM

COUNTED = 2


def texts() -> Iterator[tuple[str, str]]:
    for path in sorted(Path(TEMPLATES).glob("*.html")):
        tree = Environment(autoescape=True).parse(path.read_text(encoding="utf-8"))
        for call in tree.find_all(nodes.Call):
            if not isinstance(call.node, nodes.Name) or call.node.name not in ("t", "tn"):
                continue
            said = call.args[:1] if call.node.name == "t" else call.args[1 : 1 + COUNTED]
            for one in said:
                for part in [one, *one.find_all(nodes.Const)]:
                    if isinstance(part, nodes.Const) and isinstance(part.value, str):
                        yield path.name, part.value


def test_every_text_of_the_templates_has_its_spanish() -> None:
    ids = {"end_for_end", "over", "over_end", "optimal", "feasible", "done", "end", " edge"}  # compared with, never shown
    missing = {text for _, text in texts() if text not in SPANISH and text not in ids}
    assert missing == set()


def test_words_of_states_and_stages_have_their_spanish() -> None:
    assert {*views.WORDS.values(), *views.STAGES.values(), *views.COUNTED.values(), *views.PLACES.values()} - set(
        SPANISH
    ) == set()


@pytest.mark.parametrize("text", sorted(SPANISH))
def test_a_translation_fills_in_the_same_names(text: str) -> None:
    def names(one: str) -> set[str]:
        return {name for _, name, _, _ in Formatter().parse(one) if name}

    assert names(text) == names(SPANISH[text])


def test_the_reader_is_spoken_to_in_the_language_that_was_set_or_asked_for() -> None:
    assert spoken("", "es-MX,es;q=0.9,en;q=0.8") == "es"
    assert spoken("", "fr,en;q=0.5") == "en"
    assert spoken("", "") == "en"
    assert spoken("es", "en") == "es"
    assert say("es", "Bar {n} of {m}", n=9, m=23) == "Barra 9 de 23"
    assert say("es", "a text without one") == "a text without one"


@pytest.mark.parametrize(
    ("length_nm", "shown"),
    [
        (12 * FOOT + 6 * INCH + INCH // 2, "12′ 6 1⁄2″"),
        (INCH * 5 // 8, "5⁄8″"),
        (0, "0″"),
        (3 * INCH, "3″"),
        (FOOT, "1′ 0″"),
        (FOOT + INCH // 16, "1′ 0 1⁄16″"),
        (-6 * INCH, "−6″"),
    ],
)
def test_lengths_read_as_feet_inches_and_a_real_fraction(length_nm: int, shown: str) -> None:
    assert re.sub(r"<[^>]*>", "", feet(length_nm, "in")) == shown


def test_a_millimetre_plant_sees_millimetres_only() -> None:
    assert re.sub(r"<[^>]*>", "", feet(3742 * MM, "mm")) == "3742 mm"
