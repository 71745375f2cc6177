"""Every code on every label and tag, rendered at the printer's resolution and read by an independent reader."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from service.printing.bundles import tags_pdf
from service.printing.labels import Dpi, LabelSize, LabelStyle, labels_pdf
from solver.documents.bundles import bundle_tags
from solver.documents.labels import piece_labels
from solver.domain.document import BundleTag, PieceLabel
from solver.domain.ids import OrderId
from tests.paper import codes_on, rendered
from tests.samples import LONG, demo_index, hard_labels, label, panel

SIZES: tuple[LabelSize, ...] = ("4x6", "A6", "roll-4x3")


def read_back(labels: Sequence[PieceLabel], style: LabelStyle, dpi: int) -> None:
    pdf = labels_pdf(labels, style, title="test")
    for one, picture in zip(labels, rendered(pdf, dpi), strict=True):
        found = codes_on(picture)
        assert found["QRCode"] == one.code
        assert found["Code128"] in (one.code, one.short_code)


@pytest.mark.parametrize("dpi", [203, 300])
@pytest.mark.parametrize("size", SIZES)
def test_every_code_on_hard_labels_is_read_back(size: LabelSize, dpi: Dpi) -> None:
    read_back(hard_labels(), LabelStyle(size=size, dpi=dpi), dpi)


@pytest.mark.parametrize(("dpi", "size"), [(203, "4x6"), (300, "4x6"), (203, "roll-4x3")])
def test_every_code_on_every_label_of_a_demo_order_is_read_back(size: LabelSize, dpi: Dpi) -> None:
    labels = list(piece_labels(demo_index("workshop-3")))
    assert len(labels) > 150
    read_back(labels, LabelStyle(size=size, dpi=dpi), dpi)


def test_a_label_drawn_for_203_dpi_is_read_at_300_too() -> None:
    read_back(hard_labels(), LabelStyle(dpi=203), 300)


def test_an_id_that_fits_is_the_bar_code_itself() -> None:
    pdf = labels_pdf([label(panel())], LabelStyle(), title="test")
    assert codes_on(next(rendered(pdf, 203)))["Code128"] == "cottage-7/L1.S-03"


def test_an_id_too_long_for_three_dots_a_module_becomes_ten_digits() -> None:
    one = label(panel(order=LONG))
    found = codes_on(next(rendered(labels_pdf([one], LabelStyle(), title="test"), 203)))
    assert found == {"QRCode": f"{LONG}/L1.S-03", "Code128": one.short_code}


def hard_tags() -> list[BundleTag]:
    """The tags of two demo orders, one with the longest names."""
    tags = [*bundle_tags(demo_index()), *bundle_tags(demo_index("ell-12"))]
    long = tags[0]
    return [*tags, replace(long, name="B1234-of-a-very-long-name", bundle=replace(long.bundle, order=OrderId(LONG)))]


@pytest.mark.parametrize(("dpi", "size"), [(203, "4x6"), (300, "A6")])
def test_every_tag_reads_back_as_gs1_128_and_digital_link(size: LabelSize, dpi: Dpi) -> None:
    tags = hard_tags()
    pdf = tags_pdf(tags, LabelStyle(size=size, dpi=dpi), title="test")
    for tag, picture in zip(tags, rendered(pdf, dpi), strict=True):
        found = codes_on(picture)
        assert found["Code128"] == f"(00){tag.serial}"  # read as GS1-128: FNC1 was seen
        assert found["QRCode"] == f"https://id.gs1.org/00/{tag.serial}"
