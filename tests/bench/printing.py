"""Labels: how long 2,000 take, whether they are the same when made again, and whether every code of the demo reads back.

`python -m tests.bench printing`; writes results/printing.json. Fails when 2,000 labels take 20 s of processor time or more,
differ when made again, or a code does not read back at 203 or 300 dpi.
"""

from __future__ import annotations

import hashlib
import time
from typing import Any

from service.printing.bundles import tags_pdf
from service.printing.labels import Dpi, LabelSize, LabelStyle, labels_pdf
from service.printing.sheets import PlanSheets
from solver.documents.bundles import bundle_tags
from solver.documents.index import PlanIndex
from solver.documents.labels import piece_labels
from solver.domain.document import PieceLabel
from solver.units import INCH
from tests.bench.machine import write_result
from tests.orders import DEMOS, plant
from tests.paper import codes_on, rendered
from tests.samples import demo_plan, label, panel

LABELS = 2_000
LIMIT_S = 20.0


def many_labels(count: int) -> list[PieceLabel]:
    """Return labels of as many different panels as needed, two a piece, every third with openings."""
    made: list[PieceLabel] = []
    window = (6 * INCH, 30 * INCH, 40 * INCH, 60 * INCH)
    for n in range(count // 2):
        heights = ((96 + n % 40) * INCH, (96 + n % 55) * INCH)
        piece = panel(mark=f"L{n // 400 + 1}.S-{n % 400:03d}", heights_nm=heights, cutouts=(window,) if n % 3 == 0 else ())
        made += [label(piece), label(piece, place="inside_face")]
    return made


def timed_labels(size: LabelSize) -> dict[str, Any]:
    """Return seconds of clock and processor for 2,000 labels, and whether they are the same when made again."""
    labels = many_labels(LABELS)
    clock, work = time.perf_counter(), time.process_time()
    pdf = labels_pdf(labels, LabelStyle(size=size), title="bench")
    clock, work = time.perf_counter() - clock, time.process_time() - work
    again = labels_pdf(many_labels(LABELS), LabelStyle(size=size), title="bench")
    return {
        "labels": len(labels),
        "seconds": round(clock, 2),
        "processor_seconds": round(work, 2),
        "megabytes": round(len(pdf) / 1e6, 2),
        "same_bytes_again": pdf == again,
        "sha256": hashlib.sha256(pdf).hexdigest(),
    }


def read_back(dpi: Dpi) -> dict[str, Any]:
    """Return how many codes of all demo orders were read back at a resolution, labels and tags."""
    read, wrong = 0, []
    for name in DEMOS:
        index = PlanIndex(demo_plan(name), plant())
        labels = piece_labels(index)
        pages = rendered(labels_pdf(labels, LabelStyle(dpi=dpi), title="bench"), dpi)
        for one, picture in zip(labels, pages, strict=True):
            found = codes_on(picture)
            good = found.get("QRCode") == one.code, found.get("Code128") in (one.code, one.short_code)
            read += sum(good)
            wrong += [] if all(good) else [one.code]
        tags = bundle_tags(index)
        for tag, picture in zip(tags, rendered(tags_pdf(tags, LabelStyle(dpi=dpi), title="bench"), dpi), strict=True):
            found = codes_on(picture)
            good = found.get("QRCode") == tag.link, found.get("Code128") == f"(00){tag.serial}"
            read += sum(good)
            wrong += [] if all(good) else [tag.serial]
    return {"codes_read": read, "wrong": wrong}


def whole_plan() -> dict[str, Any]:
    """Return the seconds of processor for every file of one demo order."""
    made = PlanSheets(demo_plan("cottage-7"), plant(), made="bench").all()
    spent: dict[str, float] = {}
    for name, make in made.items():
        begun = time.process_time()
        make()
        spent[name] = round(time.process_time() - begun, 2)
    return {"order": "cottage-7", "processor_seconds": spent, "all": round(sum(spent.values()), 2)}


def main(_: list[str]) -> int:
    """Measure, write the result, and return 1 where something does not hold."""
    sizes: tuple[LabelSize, ...] = ("4x6", "A6", "roll-4x3")
    labels = {size: timed_labels(size) for size in sizes}
    codes = {f"{dpi} dpi": read_back(dpi) for dpi in (203, 300)}
    result = {"labels": labels, "codes": codes, "sheets": whole_plan()}
    write_result("printing", result, command="python -m tests.bench printing")
    slow = [size for size, one in labels.items() if one["processor_seconds"] >= LIMIT_S or not one["same_bytes_again"]]
    unread = [name for name, one in codes.items() if one["wrong"]]
    for size, one in labels.items():
        print(f"{one['labels']} labels {size}: {one['seconds']} s, {one['processor_seconds']} s of processor")
    for name, code in codes.items():
        print(f"{name}: {code['codes_read']} codes read back, {len(code['wrong'])} not")
    return 1 if slow or unread else 0
