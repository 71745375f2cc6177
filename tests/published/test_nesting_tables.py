"""Published cutting tables and instances: the known optimum is reached and proved, and other programs agree."""

from __future__ import annotations

from typing import Any

import pytest

from solver.codec import decode
from solver.domain.cut_plan import NestJob, NestResult
from solver.nesting.check import check
from solver.nesting.nest import nest
from solver.search import Search
from tests.published.nesting_baselines import arc_flow_cbc, arc_flow_highs
from tests.shared import instances

Items = list[tuple[int, int]]

# name: bar, pieces, optimum in bars, source
TABLES: dict[str, tuple[int, Items, int]] = {
    # Chvatal (1983) Linear Programming, ch. 13, as read in the NEOS guide's cutting-stock case study
    "chvatal": (100, [(45, 97), (36, 610), (31, 395), (14, 211)], 453),
    # the worked example of Wikipedia, "Cutting stock problem": 5600 mm rolls, 73 needed, waste 0.401 %
    "paper machine": (
        5600,
        [
            *[(1380, 22), (1520, 25), (1560, 12), (1710, 14), (1820, 18), (1880, 18), (1930, 20), (2000, 10)],
            *[(2050, 12), (2100, 14), (2140, 16), (2150, 18), (2200, 20)],
        ],
        73,
    ),
    # Winston, Operations Research, the Woodco example (data read in lecture notes; optimum recomputed with CBC below)
    "woodco": (17, [(9, 15), (5, 20), (3, 25)], 19),
    # Fourer, Gay, Kernighan: AMPL, ch. 15, cut.dat; the relaxed value is 46.25
    "ampl book": (110, [(75, 8), (55, 10), (50, 24), (45, 35), (20, 48)], 47),
    # instances whose optimum lies above the rounded linear bound: Fieldhouse (1990), Gau, Rietz, as in Belov's test files
    "fieldhouse": (30, [(15, 3), (10, 5), (6, 9)], 6),
    "gau": (10000, [(5000, 1), (3750, 1), (3250, 1), (3001, 1), (2000, 2)], 3),
    "gau, small": (60, [(30, 1), (22, 1), (20, 1), (19, 1), (12, 2)], 3),
    "rietz": (45, [(27, 3), (23, 3), (15, 6), (11, 6), (9, 10)], 9),
    # Haessler (1988), Management Science 34: 1460-1471, table 2, in 1/8 in, without the paper's limits on slitters
    "haessler": (
        1376,
        [
            *[(200, 5), (198, 73), (144, 14), (140, 4), (124, 23), (123, 5), (111, 29), (100, 87), (98, 9)],
            *[(96, 31), (82, 6), (81, 14), (80, 43), (70, 15), (68, 21), (62, 5)],
        ],
        33,
    ),
}


def job_of(stocks: list[tuple[int, float]], items: list[Any]) -> NestJob:
    data = {
        "unit": "mm",
        "stock": [{"id": f"S{n}", "length": length, "cost": cost} for n, (length, cost) in enumerate(stocks)],
        "pieces": [{"id": f"P{n}", "length": length, "count": count} for n, (length, count) in enumerate(items)],
    }
    return decode(NestJob, data, name="$")


def solved(job: NestJob) -> NestResult:
    result = nest(job, Search())
    assert check(job, result).faults == ()
    return result


@pytest.mark.parametrize("name", TABLES)
def test_a_published_table_needs_as_many_bars_as_published(name: str) -> None:
    bar, items, optimum = TABLES[name]
    result = solved(job_of([(bar, 1)], items))
    assert (result.status, result.cost, result.lower_bound) == ("optimal", optimum, optimum)


def test_the_paper_machine_wastes_as_little_as_published() -> None:
    bar, items, _ = TABLES["paper machine"]
    waste = solved(job_of([(bar, 1)], items)).waste
    assert waste is not None
    assert round(100 * waste, 3) == 0.401


def test_gilmore_and_gomorys_example_of_three_stock_lengths_costs_170() -> None:
    """Gilmore and Gomory (1961), Operations Research 9: 849-859; data and value from memory, recomputed with CBC."""
    result = solved(job_of([(9, 10), (6, 7), (5, 6)], [(4, 20), (3, 10), (2, 20)]))
    assert (result.status, result.cost) == ("optimal", 170)


@pytest.mark.parametrize("name", ["woodco", "ampl book", "fieldhouse", "gau, small", "rietz"])
def test_arc_flow_on_two_other_programs_agrees(name: str) -> None:
    bar, items, optimum = TABLES[name]
    assert arc_flow_cbc(bar, items, 20.0) == (optimum, True)
    assert arc_flow_highs(bar, items, 20.0) == (optimum, True)


@pytest.mark.parametrize("name", ["scholl_1", "schwerin_1", "falkenauer_u"])
def test_cbc_agrees_on_a_sample_of_published_instances(name: str) -> None:
    """Instances as in BPPLIB: Delorme, Iori, Martello (2018), Optimization Letters 12: 235-250."""
    instance = instances(f"cutting/{name}")[0]
    if instance["capacity"] > 150:
        instance = {**instance, "items": instance["items"][:12], "optimum": None}
    result = solved(job_of([(instance["capacity"], 1)], instance["items"]))
    bars, proved = arc_flow_cbc(instance["capacity"], instance["items"], 30.0)
    assert proved
    assert (result.status, result.cost) == ("optimal", bars)


SAMPLE = [
    ("falkenauer_u", 3),
    ("falkenauer_t", 5),
    ("scholl_1", 100),
    ("scholl_1", 400),
    ("scholl_2", 7),
    ("scholl_2", 200),
    ("schwerin_1", 50),
    ("schwerin_2", 50),
    ("waescher", 2),
    ("hard28", 5),  # Hard28_BPP119: its optimum, 77, lies above the rounded linear bound, 76
    ("mlcsp_porumbel_a", 0),
]


@pytest.mark.parametrize(("name", "n"), SAMPLE)
def test_a_published_instance_is_solved_and_proved(name: str, n: int) -> None:
    """Optima of BPPLIB and, for several stock lengths, of Porumbel (2022), INFORMS Journal on Computing."""
    instance = instances(f"cutting/{name}")[n]
    stocks = [tuple(stock) for stock in instance.get("stocks") or [[instance["capacity"], 1]]]
    result = solved(job_of(stocks, instance["items"]))
    assert (result.status, result.cost) == ("optimal", instance["optimum"])
