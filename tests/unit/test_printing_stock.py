"""The label of a stock item: its number, what it is and where it lies, read back from the paper."""

from __future__ import annotations

import pypdfium2 as pdfium
import pytest
import zxingcpp

from service.catalog import read_plant
from service.printing.labels import SIZES_PT, LabelSize, LabelStyle
from service.printing.stock_labels import stock_code, stock_label_pdf
from solver.domain.stock import StockItem
from solver.units import Nm

PLANT = read_plant(None)
REST = StockItem(
    item=1042,
    kind="remnant",
    material=PLANT.stated_stock.bars[0].material,
    length_nm=Nm(2_895_600_000),  # 9 ft 6 in
    place="rack 3, slot 14",
    source="bar 17",
    put_away="2031-04-28",
)


@pytest.mark.parametrize("size", SIZES_PT)
def test_a_label_says_number_material_length_and_place_and_its_code_reads_back(size: LabelSize) -> None:
    document = pdfium.PdfDocument(stock_label_pdf(REST, PLANT, LabelStyle(size=size)))
    page = document[0]
    said = page.get_textpage().get_text_range()
    for text in ("1042", "6 in wall", "length: 9 6", "rack 3, slot 14", "bar 17", "2031-04-28"):
        assert text in said, text
    codes = zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil())
    assert [code.text for code in codes] == [stock_code(1042)]
    document.close()


def test_a_label_is_made_again_byte_for_byte() -> None:
    assert stock_label_pdf(REST, PLANT, LabelStyle()) == stock_label_pdf(REST, PLANT, LabelStyle())
