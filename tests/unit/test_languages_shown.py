"""What comes out: nothing of it is left in English for who asks for Spanish, and a further language is one file."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
import typer.main
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po
from typer.testing import CliRunner

from service import cli, languages
from service.printing.labels import LabelStyle
from service.printing.sheets import PlanSheets
from service.reports.summary import plan_summary
from service.stations.pages import _environment
from solver.language import ENGLISH, Language
from solver.units import Seconds
from tests.languages import SPANISH
from tests.orders import plant
from tests.paper import page_text
from tests.samples import demo_plan
from tests.shared import ROOT

WORD = re.compile(r"[a-z]{4,}")
# what a person wrote, names of fields, stages, options and values that stay English by the contracts
THEIRS = {
    "nest",
    "check",
    "bars",
    "stock",
    "pieces",
    "cost",
    "bound",
    "cottage",
    "order",
    "path",
    "length",
    "plan",
    "stage",
    "slit",
    "skins",
}


@cache
def english_words() -> frozenset[str]:
    """Every word of the English texts that no Spanish text has."""
    said = re.sub(r"\{[^}]*\}|`[^`]*`", " ", " ".join(form for forms in SPANISH.texts.values() for form in forms).lower())
    asked = " ".join(english for _, english in SPANISH.texts).lower()
    return frozenset(WORD.findall(re.sub(r"\{[^}]*\}|`[^`]*`", " ", asked))) - set(re.findall(r"\w+", said))


def left_english(text: str) -> set[str]:
    return {word for word in re.findall(r"(?<![\w./\[-])[a-z]{4,}(?![\w./\]=-])", text) if word in english_words()} - THEIRS


def test_english_that_is_left_is_noticed() -> None:
    assert len(english_words()) > 900
    assert left_english("la barra is missing its bundle") == {"missing", "bundle"}
    assert left_english("la barra está en su paquete") == set()


def test_the_summary_of_a_plan_has_no_english_left() -> None:
    for name in ("cottage-7", "workshop-3"):
        told = plan_summary(demo_plan(name), plant(), {"labels": Path("labels.pdf")}, SPANISH)
        assert "Piezas" in told and "aprovecha" in told
        assert left_english(told) - {word for item in plant().families for word in WORD.findall(item.name or item.id)} == set()


def test_the_help_has_no_english_left() -> None:
    command = cli.whole_command(["--language", "es"])
    texts = [command.get_help(typer.Context(command, info_name="sawbill"))]
    texts += [below.get_help(typer.Context(below, info_name=name)) for name, below in command.commands.items()]
    assert len(texts) > 15
    for text in texts:
        assert "Uso:" in text and "Opciones:" in text
        assert left_english(re.sub(r"<[^>]*>|--[a-z-]+|\{[^}]*\}", "", text)) - set(command.commands) == set()


JOB = {"unit": "mm", "stock": [{"id": "S", "length": 6000}], "pieces": [{"id": "A", "length": 2400, "count": 2}]}
PLACED = {"id": "A", "turn": "as_is", "edge_a": [0, 2400], "edge_b": [0, 2400]}
SPOILED = {
    "status": "optimal", "cost": 1, "lower_bound": 2, "waste": 0.7, "seconds": 0.1,
    "bars": [{"stock": "T", "repeat": 1, "drop": 5, "pieces": [PLACED]}],
}  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "given", "code"),
    [
        (["check", "-"], {"stage": "nest", "job": JOB, "result": SPOILED}, 4),
        (["nest", "-"], {**JOB, "pieces": [{"id": "A", "edge_a": [5, 2], "edge_b": [0, 3]}, {"id": "A", "length": 1}]}, 2),
        (["nest", "-"], {**JOB, "pieces": [{"id": "A", "length": 9000}]}, 3),
        (["takeoff", "-"], {"format": 1, "id": "a b", "unit": "in"}, 2),
    ],
)
def test_what_is_refused_or_does_not_hold_is_told_without_english(arguments: list[str], given: object, code: int) -> None:
    told = CliRunner().invoke(cli.app, ["--language", "es", *arguments], input=json.dumps(given))
    assert told.exit_code == code
    lines = [line for line in told.output.splitlines() if not line.startswith("{")]
    assert lines
    assert left_english("\n".join(line.partition(": ")[2] for line in lines)) == set()


@pytest.fixture
def pseudo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Language]:
    """A language that says everything in English between marks, in a catalog that only this test has."""
    made = Catalog()
    with (ROOT / "service" / "locale" / "es" / languages.CATALOG).open("rb") as file:
        for message in read_po(file):
            if message.id:
                forms = (message.id,) if isinstance(message.id, str) else tuple(message.id)
                said = tuple(f"«{form}»" for form in forms)
                made.add(message.id, said[0] if len(said) == 1 else said, context=message.context)
    place = tmp_path / "xx" / languages.CATALOG
    place.parent.mkdir(parents=True)
    with place.open("wb") as file:
        write_po(file, made)
    monkeypatch.setattr(languages, "_folder", lambda: tmp_path)
    for kept in (languages.language_codes, languages.language_by_code):
        kept.cache_clear()
    yield languages.language_by_code("xx")
    for kept in (languages.language_codes, languages.language_by_code):
        kept.cache_clear()


def test_a_further_language_is_a_file_and_reaches_page_paper_and_command_line(pseudo: Language) -> None:
    assert languages.language_codes() == ("en", "xx")
    assert languages.choose_language("", "xx,en") is pseudo
    page = (
        _environment()
        .get_template("home.html")
        .render(language=pseudo, request_path="/", orders=2, bars=1, loads=0, zone="UTC", called=str)
    )
    assert "«Orders in, plans out. 2 orders stored.»" in page
    command = cli.whole_command(["--language", "xx"])
    assert "«Usage:»" in command.get_help(typer.Context(command, info_name="sawbill"))
    assert "«Pieces»" in plan_summary(demo_plan("workshop-3"), plant(), language=pseudo)
    papers = PlanSheets(demo_plan("workshop-3"), plant(), made="m", language=pseudo)
    assert "«Rigging sheet»" in page_text(papers.rigging(), 0)
    refused = CliRunner().invoke(cli.app, ["--language", "xx", "takeoff", "-"], input="{}")
    assert "«is missing»" in refused.output
    assert LabelStyle().language is ENGLISH


@pytest.mark.parametrize(("late_s", "said"), [(96_600, "LATE by 1 d 2 h"), (0, "in time, 1 d 2 h to spare")])
def test_the_summary_tells_lateness_in_days_and_hours(late_s: int, said: str) -> None:
    plan = demo_plan("cottage-7")
    done = plan.timetable.deliveries[0].done_s
    first = replace(
        plan.timetable.deliveries[0], due_s=Seconds(done + (-96_600 if late_s else 96_600)), late_s=Seconds(late_s), why=()
    )
    told = plan_summary(replace(plan, timetable=replace(plan.timetable, deliveries=(first,))), plant())
    assert [line.endswith(said) for line in told.splitlines() if line.startswith("Ships")] == [True]
