"""The words themselves, replayed: PDF text and the saw's page, read back and cut, come out as the pieces must stand."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.catalog import read_plant
from service.printing.machines import bevel_pdf
from service.printing.saw import saw_pdf
from service.printing.sheet_pages import SheetSetting
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from solver.documents.index import PlanIndex
from solver.documents.machines import drill_shapes, rip_rows, router_shapes
from solver.documents.saw import saw_sheets
from solver.domain.document import SawBar
from solver.domain.plan import Plan
from solver.domain.plant import Lays, Plant
from tests.paper import page_count, page_text
from tests.replay.compare import Difference, Paper, differences
from tests.replay.plans import random_plan
from tests.replay.reading import bar_of, lies_of, page_cut, page_piece, rips, saw_bars
from tests.service_fakes import fake_plan, one_sheet, order_document
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest

SEED = 3  # an outline of fourteen corners under hips and valleys: tilted, sloped, ripped and bevelled panels
ROUNDED = 600_000.0  # figures are to 0.1 mm, tilts to 0.1 degrees: 0.3 mm through 8 in
SETTING = SheetSetting(plan="p", made="m", unit="mm")


def planned(plant: Plant) -> PlanIndex:
    index = random_plan(SEED, plant)
    return PlanIndex(replace(index.plan, unit="mm"), plant)


def judged(bars: list[SawBar], index: PlanIndex) -> list[Difference]:
    made = {piece.piece for bar in bars for piece in bar.pieces}
    pieces = [piece for piece in index.pieces.values() if piece.id in made]
    shapes = (*router_shapes(index), *drill_shapes(index))
    return list(differences(Paper(tuple(bars), rip_rows(index), shapes), pieces, index.plant, slack=ROUNDED))


@pytest.mark.parametrize("up", ["inside", "outside"])
def test_the_text_of_the_sheets_makes_the_panels(up: Any) -> None:
    plant = replace(read_plant(), lays=Lays(panel_saw=up, bevel_saw=up, router=up))
    index = planned(plant)
    ids = {piece.mark: str(piece.id) for piece in index.pieces.values()}
    saw, bevel = saw_pdf(saw_sheets(index), SETTING, unit="mm"), bevel_pdf(rip_rows(index), SETTING, unit="mm")
    bars = list(saw_bars([page_text(saw, n) for n in range(page_count(saw))], ids, plant))
    rows = tuple(rips([page_text(bevel, n) for n in range(page_count(bevel))], ids))
    assert {row.piece for row in rows} == {row.piece for row in rip_rows(index)}
    panels = [piece for piece in index.pieces.values() if piece.is_panel]
    assert len(panels) > 50
    assert {piece.piece for bar in bars for piece in bar.pieces} == {piece.id for piece in panels}
    paper = Paper(tuple(bars), rows, router_shapes(index))
    assert list(differences(paper, panels, plant, slack=ROUNDED)) == []
    assert sum(1 for bar in bars for cut in bar.cuts if cut.tilt_udeg) > 5
    assert sum(1 for bar in bars for piece in bar.pieces if piece.seconds) > 5


def test_the_saws_page_makes_fifty_panels(tmp_path: Path) -> None:
    plant = read_plant()
    index = planned(plant)
    settings = Settings(data_dir=str(tmp_path))
    upgrade_store_to_newest(settings)
    store = SqlStore(settings.database_url)
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        web.post("/api/orders", json=order_document())
        job = web.post("/api/plans", json={"epoch": "2031-04-21T06:00:00-06:00"}).json()["job"]
        claim_job(job, "t", store=store, settings=settings)
        run_job(job, "t", store=store, settings=settings, plant=plant, pipeline=_giving(index), printer=one_sheet)
        plan = web.get(f"/api/jobs/{job}").json()["plan"]
        assert web.post(f"/api/plans/{plan}/release").status_code == 200
        bars = _read_bars(web, index, at_least=50)
    store.close()
    assert sum(len(bar.pieces) for bar in bars) >= 50
    assert sum(1 for bar in bars for cut in bar.cuts if cut.tilt_udeg) > 3
    assert judged(bars, index) == []
    turned = [replace(bar, cuts=tuple(replace(cut, long_up=not cut.long_up) for cut in bar.cuts)) for bar in bars]
    assert judged(turned, index)  # the page told the other way round would be noticed


def _giving(index: PlanIndex) -> Any:
    def pipeline(*told: Any, **more: Any) -> Plan:
        made: Plan = fake_plan(*told, **more)
        return replace(made, unit="mm", takeoffs=index.plan.takeoffs, cuts=index.plan.cuts, stacks=(), loads=(), sequences=(),
                       dispatch=None, rack=None)  # fmt: skip

    return pipeline


def _text(web: TestClient, path: str, **asked: Any) -> str:
    told = web.get(path, params=asked, headers={"accept-language": "en"})
    assert told.status_code == 200, (path, told.status_code)
    body = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]*>", " ", told.text, flags=re.S)
    return re.sub(r" ([,.:])", r"\1", " ".join(unescape(body).split()))


def _read_bars(web: TestClient, index: PlanIndex, *, at_least: int) -> list[SawBar]:
    """Work at the saw as a person would: pull, read, cut, report; tilted and sloped panels first."""
    wanted = sorted(
        (bar for cut in index.plan.cuts for bar in cut.bars if index.pieces[bar.pieces[0].piece].is_panel),
        key=lambda bar: -sum(_hard(index, slot.piece) for slot in bar.pieces),
    )
    made: list[SawBar] = []
    for bar in wanted:
        if sum(len(one.pieces) for one in made) >= at_least:
            break
        queue = web.get(f"/api/bars/{bar.id.replace('#', '%23').replace('|', '%7C')}").json()["bar"]
        wide = float(index.plant.family(bar.material.partition("|")[0]).cover_nm)
        pieces, cuts, lies = [], [], None
        for slot in queue["cuts"]:
            stroke = 0
            while True:
                text = _text(web, f"/saw/{queue['machine']}", bar=bar.id, pulled=queue["position"], stroke=stroke)
                if lies is None:
                    lies = lies_of(text.partition("Lay it so:")[2], index.pieces[slot["piece"]].role)
                found = page_cut(text, slot["piece"], wide)
                cuts += [found] if found is not None else []
                if found is None or found.kind == "part" or "Not yet" in text or "Next cut" not in text:
                    break
                stroke += 1
            pieces.append(page_piece(text, slot["piece"], slot["mark"], lies))
            event = {"id": f"cut-{len(made)}-{len(pieces)}", "kind": "cut", "at": "2031-05-05T07:42:00-06:00", "station": "t",
                     "subject": slot["piece"], "about": bar.id}  # fmt: skip
            assert web.post("/api/events", json=event).status_code == 201, event
        assert lies is not None
        made.append(bar_of(str(bar.id), str(bar.length_nm / 1e6), lies, wide, cuts, pieces))
    return made


def _hard(index: PlanIndex, name: str) -> int:
    piece = index.pieces[name]
    return bool(piece.foot.tilt_udeg or piece.head.tilt_udeg) + (piece.edge_a != piece.edge_b)
