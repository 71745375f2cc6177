"""The language of the command line: as it is told, else as the system's settings ask (POSIX: LC_ALL, LC_MESSAGES, LANG)."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner

from service.cli import app
from service.languages import language_of_environment

REFUSED = '{"format": 1, "id": "a b", "unit": "in"}'


@pytest.mark.parametrize(
    ("told", "language"),
    [
        ({}, "en"),
        ({"LANG": "es_MX.UTF-8"}, "es"),
        ({"LANG": "es_MX.UTF-8", "LC_ALL": "C.UTF-8"}, "en"),
        ({"LANG": "en_US.UTF-8", "LC_MESSAGES": "es_US"}, "es"),
        ({"LANG": "es", "LC_ALL": ""}, "es"),
        ({"SAWBILL_LANGUAGE": "en", "LC_ALL": "es_MX.UTF-8"}, "en"),
    ],
)
def test_the_first_setting_that_is_there_decides(told: dict[str, str], language: str) -> None:
    assert language_of_environment(told).code == language


def test_a_refused_order_is_told_in_the_language_that_was_asked_for(tmp_path: Path) -> None:
    """Each fault has its path and comes in Spanish; told so or by the system's settings."""
    order = tmp_path / "order.json"
    order.write_text(REFUSED, encoding="utf-8")
    english = CliRunner().invoke(app, ["--language", "en", "takeoff", str(order)])
    spanish = CliRunner().invoke(app, ["--language", "es", "takeoff", str(order)], env={"LC_ALL": "C"})
    by_system = CliRunner().invoke(app, ["takeoff", str(order)], env={"LC_ALL": "es_US.UTF-8"})
    assert english.exit_code == spanish.exit_code == 2
    assert "outlines: is missing; an object" in english.stderr
    assert "outlines: falta; un objeto" in spanish.stderr
    assert by_system.stderr == spanish.stderr
    paths = [[line.partition(":")[0] for line in told.stderr.splitlines()] for told in (english, spanish)]
    assert paths[0] == paths[1]
    assert not set(english.stderr.splitlines()) & set(spanish.stderr.splitlines())


def test_a_language_that_is_not_known_is_refused() -> None:
    told = CliRunner().invoke(app, ["--language", "xx", "schema", "order"], env={"LC_ALL": "C"})
    assert told.exit_code == 2
    assert "--language: 'xx' is not known; one of en, es" in told.stderr
