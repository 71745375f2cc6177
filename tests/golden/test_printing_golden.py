"""Labels and sheets byte for byte: the same paper each time it is made, in this process and in another.

The digests are of hand-made labels, so that they change only when the paper is meant to change. To renew them:
`python -m tests.golden.test_printing_golden > tests/golden/printing.json`.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest

from service.drawings.elevation import elevation_drawing
from service.drawings.piece import piece_drawing, piece_sketch
from service.drawings.svg import to_svg
from service.drawings.timetable import timetable_drawing
from service.printing.labels import LabelSize, LabelStyle, labels_pdf
from service.printing.sheets import PlanSheets
from solver.units import INCH
from tests.languages import LANGUAGES, SPANISH
from tests.orders import demo_building, plant
from tests.samples import demo_plan, hard_labels, panel, short_timetable
from tests.shared import ROOT

HERE = Path(__file__).with_name("printing.json")
SIZES: tuple[LabelSize, ...] = ("4x6", "A6", "roll-4x3")


def label_digests() -> dict[str, str]:
    """Return the digest of each hand-made label file."""
    made = {}
    for size in SIZES:
        for language in LANGUAGES:
            pdf = labels_pdf(hard_labels(), LabelStyle(size=size, language=language), title="golden")
            made[f"{size} {language}"] = hashlib.sha256(pdf).hexdigest()
    return made


def drawing_digests() -> dict[str, str]:
    """Return the digest of each hand-made drawing's SVG."""
    window = panel(cutouts=((6 * INCH, 30 * INCH, 40 * INCH, 60 * INCH),))
    wall = demo_building("workshop-3").walls[0]
    drawings = {
        "piece in": piece_drawing(window, unit="in"),
        "piece mm": piece_drawing(window, unit="mm", language=SPANISH),
        "sketch": piece_sketch(window, room_pt=(260, 120), unit="in"),
        "bare wall": elevation_drawing(wall, (), unit="in"),
        "timetable": timetable_drawing(short_timetable(), time_zone="America/Denver"),
    }
    return {name: hashlib.sha256(to_svg(drawing, standalone=True).encode()).hexdigest() for name, drawing in drawings.items()}


def test_hand_made_labels_are_the_committed_bytes() -> None:
    golden = json.loads(HERE.read_text(encoding="utf-8"))
    if golden["reportlab"] != version("reportlab") or golden["segno"] != version("segno"):
        pytest.skip("made with another reportlab or segno than the committed digests")
    assert label_digests() == golden["labels"]


def test_hand_made_drawings_are_the_committed_svg() -> None:
    assert drawing_digests() == json.loads(HERE.read_text(encoding="utf-8"))["drawings"]


def test_every_file_of_a_plan_is_the_same_when_made_again() -> None:
    plan = demo_plan("workshop-3")
    one, two = (PlanSheets(plan, plant(), made="2031-05-05 06:00").all() for _ in range(2))
    for name in one:
        assert one[name]() == two[name](), name


def test_another_process_makes_the_same_labels() -> None:
    here = label_digests()
    there = subprocess.run(
        [sys.executable, "-m", "tests.golden.test_printing_golden"],
        cwd=ROOT,
        env={"PYTHONHASHSEED": "7", "TZ": "Asia/Kathmandu", "PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
        timeout=120,
    )
    assert json.loads(there.stdout)["labels"] == here


def test_another_time_or_plan_changes_the_sheets() -> None:
    plan = demo_plan("workshop-3")
    assert PlanSheets(plan, plant(), made="a").packing() != PlanSheets(plan, plant(), made="b").packing()


if __name__ == "__main__":
    found = {"reportlab": version("reportlab"), "segno": version("segno")}
    print(json.dumps({**found, "labels": label_digests(), "drawings": drawing_digests()}, indent=1))
