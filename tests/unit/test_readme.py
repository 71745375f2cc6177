"""README says what was measured, and names only commands that exist."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

from tests.bench.readme import README, quoted, table

ROOT = Path(__file__).resolve().parents[2]


def test_the_quoted_results_are_those_of_the_result_files() -> None:
    assert quoted() == table()


def test_every_command_that_readme_names_exists() -> None:
    run = [sys.executable, "-m", "service.cli", "--help"]
    text = subprocess.run(run, check=True, capture_output=True, text=True, cwd=ROOT).stdout
    known = set(re.findall(r"^  ([a-z]+)  ", text, flags=re.MULTILINE))
    named = set(re.findall(r"sawbill ([a-z|]+)", README.read_text(encoding="utf-8")))
    assert named
    assert {word for words in named for word in words.split("|")} <= known


def test_every_picture_and_folder_that_readme_names_is_there() -> None:
    text = README.read_text(encoding="utf-8")
    pictures = re.findall(r"\]\(([^)]+)\)", text)
    for name in [*pictures, "deploy", "service/data", "DEVELOPERS.md", "tests/bench/results"]:
        assert (ROOT / name).exists(), name
