"""The words of paper: each said in both languages with the same figures, and every word that code asks for is there."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from string import Formatter
from typing import get_args, get_type_hints

import pytest

from solver.documents.texts import all_words, say
from solver.domain.building import Head, RoofEdge
from solver.domain.cut_plan import TURNS, Joints
from solver.domain.document import EaveSection
from solver.domain.load import AxleGroup
from solver.domain.piece import Allowance, Role
from tests.languages import LANGUAGES, SPANISH
from tests.shared import ROOT


def figures(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("key", sorted(all_words()))
def test_every_text_is_said_in_every_language_with_the_same_figures(key: str) -> None:
    english = all_words()[key]
    assert english.strip()
    for language in LANGUAGES:
        assert figures(english) == figures(language.text(english, key))


def literals(node: ast.expr) -> Iterator[str]:
    """The texts that an expression may give: itself, either branch of a choice, the beginning of a joined text."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*literals(node.body), *literals(node.orelse))
    elif isinstance(node, ast.BinOp):
        yield from literals(node.left)
    elif isinstance(node, ast.JoinedStr):
        yield from literals(node.values[0])


def asked_for() -> Iterator[tuple[str, str]]:
    """Every key that code names in a call of `say`, with the file that names it."""
    for room in ("service/drawings", "service/printing", "solver/documents"):
        for path in sorted((ROOT / room).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if not isinstance(node, ast.Call):
                    continue
                name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if name == "say":
                    yield from ((key, path.name) for argument in node.args[:2] for key in literals(argument))


def test_every_word_that_code_names_is_in_the_table() -> None:
    asked = list(asked_for())
    assert len(asked) > 100
    begun = (
        "head_",
        "side_",
        "why_",
        "rule_",
        "joints_",
        "kind_",
        "stock_",
        "end_",
        "allowance_",
        "cut_",
        "joint_",
        "part_",
        "eave_",
    )  # then what data says
    said = {english for _, english in SPANISH.texts}  # a text of the language's own: its English is its key
    missing = {(key, file) for key, file in asked if key not in all_words() and key not in begun and key not in said}
    assert missing == set()


def test_every_word_of_the_data_is_in_the_table() -> None:
    heads = get_args(Head.__dataclass_fields__["kind"].type) or ("arch", "trapezoid", "round")
    wanted = {
        *get_args(Role),
        *({"wall": "edge_wall"}.get(edge, edge) for edge in get_args(RoofEdge)),
        *TURNS,
        *get_args(AxleGroup),
        *(f"head_{kind}" for kind in heads),
        *(f"side_{side}" for side in ("left", "right", "rear")),
        *(f"rule_{rule}" for rule in ("narrowest_rip", "leg", "strip", "joint_clearance", "spacing", "stagger")),
        *(f"kind_{kind}" for kind in ("skin", "coil", "core")),
        *(f"allowance_{name}" for name in get_args(get_type_hints(Allowance)["name"])),
        *(f"eave_{way}" for way in get_args(get_type_hints(EaveSection)["closed_by"])),
        *(f"stock_{kind}" for kind in ("made", "new")),
        *(f"joints_{which}" for which in get_args(Joints)),
        *(f"why_{rule}" for rule in ("corner", "door", "splice", "spacing", "measured")),
    }
    assert wanted - set(all_words()) == set()


def test_words_have_no_english_left_in_spanish() -> None:
    """A text of several words that is the same in both languages was not translated."""
    words = all_words().items()
    alike = {key for key, english in words if english == SPANISH.text(english, key) and len(english.split()) > 2}
    assert alike == set()


def test_a_text_that_is_not_there_is_an_error() -> None:
    for language in LANGUAGES:
        with pytest.raises(KeyError):
            say(language, "no-such-text")
