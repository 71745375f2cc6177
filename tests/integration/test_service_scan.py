"""A code scanned at a station: what it means, its label again as PDF or on a printer, and refusals with the way out."""

from __future__ import annotations

import os
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
import zxingcpp

from service.settings import Settings
from solver.documents.codes import gs1_digital_link, short_code
from tests.integration.test_service_api import Stack, faults, stack

__all__ = ["stack"]

PIECE = "shed-1/L1.S-02"


def test_a_label_a_tag_and_a_typed_number_find_the_same_things(stack: Stack) -> None:
    stack.released()

    def ask(code: str) -> Any:
        return stack.web.get("/api/scan", params={"code": code}).json()

    piece = ask(PIECE)
    assert (piece["kind"], piece["id"], piece["mark"], piece["order"]) == ("piece", PIECE, "L1.S-02", "shed-1")
    assert piece["bar"].endswith("-2")
    assert piece["bundle"]
    assert piece["load"] == "shed-1/T1"
    assert ask(short_code(PIECE)) == piece == ask("]Q1" + PIECE) == ask(f"  {PIECE} ")
    serial = next(one["serial"] for one in stack.web.get("/api/bundles").json()["bundles"] if one["serial"])
    bundle = ask(serial)
    assert bundle["kind"] == "bundle"
    assert bundle == ask("(00)" + serial) == ask("]C100" + serial) == ask(gs1_digital_link(serial)) == ask(bundle["id"])
    assert ask("shed-1/T1")["kind"] == "load"


def test_an_unknown_or_misread_code_says_what_to_do(stack: Stack) -> None:
    stack.released()
    for code, words in (
        ("shed-1/L1.S-99", "ask the planner"),
        (short_code("shed-1/L1.S-99"), "ask the planner"),
        ("0000000000", "type it from the label"),  # digits that no label has
        ("376104250021234560", "scan it again"),  # check digit of GS1's 376104250021234569 spoiled
        ("  ", "type the digits"),
    ):
        told = stack.web.get("/api/scan", params={"code": code})
        assert told.status_code == 422
        assert words in told.json()["faults"][0]["fix"]
    assert stack.web.get("/scan", params={"code": "nonsense"}).status_code == 422


def test_a_mark_without_its_order_shows_what_may_be_meant_and_guesses_nothing(stack: Stack) -> None:
    """ "B1", as the tag prints it large, was told to be in no plan; which order's it is a person reads from the tag."""
    stack.released()
    for said, kind in (("B1", "bundle"), ("b1", "bundle"), ("L1.S-02", "piece"), ("T1", "load")):
        assert stack.web.get("/api/scan", params={"code": said}).status_code == 422, "no guess"
        shown = stack.web.get("/scan", params={"code": said})
        assert shown.status_code == 422
        assert f"Which {said}?" in shown.text
        name = {"bundle": "B1", "piece": "L1.S-02", "load": "T1"}[kind]
        assert f'href="/scan?code=shed-1%2F{name}"' in shown.text
        assert "Order shed-1" in shown.text and "is not in the plan on the floor" not in shown.text
        assert 'action="/scan/print"' not in shown.text
    for said in ("B99", "1", "%", "_1"):
        shown = stack.web.get("/scan", params={"code": said})
        assert "Which " not in shown.text and "Not this one." in shown.text
    stack.web.headers["accept-language"] = "es"
    assert "¿Cuál B1?" in stack.web.get("/scan", params={"code": "B1"}).text


def test_before_a_release_no_label_is_known(stack: Stack) -> None:
    stack.plan()
    assert stack.web.get("/api/scan", params={"code": PIECE}).status_code == 422


@pytest.mark.parametrize("size", ["4x6", "A6", "roll-4x3"])
def test_the_label_again_reads_back_as_its_piece(stack: Stack, size: str) -> None:
    stack.released()
    told = stack.web.get("/api/labels", params={"code": PIECE, "size": size, "dpi": "300"})
    assert told.status_code == 200
    assert told.headers["content-type"] == "application/pdf"
    pages = pdfium.PdfDocument(BytesIO(told.content))
    assert len(pages) == 2
    for page in pages:
        read = zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())
        assert {one.text for one in read} <= {PIECE, short_code(PIECE)}
        assert len(read) == 2
    assert stack.web.get("/api/labels", params={"code": PIECE, "size": "A3"}).status_code == 422


def fake_spooler(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Put an `lp` on the search path that keeps what it is given."""
    taken = folder / "taken"
    taken.mkdir()
    script = f'#!/bin/sh\necho "$@" > {taken}/arguments\ncat > {taken}/paper.pdf\necho "request id is label-7 (1 file(s))"\n'
    for name, text in (("lp", script), ("lpstat", '#!/bin/sh\necho "label accepting requests"\n')):
        (folder / name).write_text(text, encoding="utf-8")
        (folder / name).chmod(0o755)
    monkeypatch.setenv("PATH", f"{folder}{os.pathsep}{os.environ['PATH']}")
    return taken


def test_a_label_goes_to_the_spooler_at_its_own_size(
    stack: Stack, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    stack.released()
    taken = fake_spooler(tmp_path_factory.mktemp("bin"), monkeypatch)
    assert stack.web.get("/api/printers").json()["queues"] == ["label"]
    told = stack.web.post("/api/prints", json={"code": PIECE, "copies": 2, "queue": "label", "size": "A6"})
    assert told.status_code == 200, told.text
    assert told.json() == {"request": "label-7", "kind": "piece", "id": PIECE, "copies": 2}
    said = (taken / "arguments").read_text()
    assert "-n 2" in said
    assert "-d label" in said
    assert "print-scaling=none" in said
    assert "media=A6" in said
    assert len(pdfium.PdfDocument(taken / "paper.pdf")) == 2
    page = stack.web.post("/scan/print", content=f"code={PIECE}".replace("/", "%2F"), follow_redirects=True)
    assert "label-7" in page.text


def test_without_a_spooler_the_answer_is_the_pdf_instead(stack: Stack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stack.released()
    monkeypatch.setenv("PATH", str(tmp_path))
    told = stack.web.post("/api/prints", json={"code": PIECE})
    assert told.status_code == 503
    assert "save the PDF" in told.json()["faults"][0]["fix"]
    page = stack.web.get("/scan", params={"code": PIECE}).text
    assert "Print it again" not in page
    assert "/api/labels?code=" in page


def test_a_print_that_is_none_gets_every_fault(stack: Stack) -> None:
    stack.released()
    told = stack.web.post("/api/prints", json={"code": PIECE, "copies": 0, "size": "A3", "paper": "red"})
    assert told.status_code == 422
    assert sorted(faults(told)) == ["print.copies", "print.paper", "print.size"]


def test_settings_name_what_label_printers_take() -> None:
    with pytest.raises(ValueError, match="SAWBILL_LABEL_DPI is 600; one of 203, 300"):
        Settings(label_dpi=600)
    with pytest.raises(ValueError, match="SAWBILL_LABEL_SIZE"):
        Settings(label_size="2x1")
