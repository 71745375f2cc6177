"""A wrong order is refused whole: every fault in one answer, by the path that its writer knows."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import Any

import pytest

from solver.codec import read_json
from solver.errors import InputError
from solver.reading.read_order import read_order
from tests.orders import DEMOS, box, demo, faults_of, plant, spoiled, with_gable

Change = Callable[[dict[str, Any]], Any]


def put(path: str, value: Any) -> Change:
    """Return a change that sets a field: `openings.0.width`."""

    def change(order: dict[str, Any]) -> None:
        *way, last = [int(key) if key.isdigit() else key for key in path.split(".")]
        place: Any = order
        for key in way:
            place = place[key]
        place[last] = value

    return change


def drop(path: str) -> Change:
    def change(order: dict[str, Any]) -> None:
        *way, last = [int(key) if key.isdigit() else key for key in path.split(".")]
        place: Any = order
        for key in way:
            place = place[key]
        del place[last]

    return change


def add_opening(**opening: Any) -> Change:
    base = {"id": "x", "on": "L1.N", "kind": "window", "from_left": 2000, "sill": 900, "width": 1000, "height": 1000}
    return lambda order: order["openings"].append({k: v for k, v in (base | opening).items() if v is not None})


def add_roof(**roof: Any) -> Change:
    def change(order: dict[str, Any]) -> None:
        with_gable(order, **roof)
        for key in [key for key, value in order["roofs"][0].items() if value is None]:
            del order["roofs"][0][key]

    return change


def corner_pair(**other: Any) -> Change:
    def change(order: dict[str, Any]) -> None:
        shared = {"kind": "window", "sill": 900, "width": 1000, "height": 1000}
        order["openings"].append({"id": "p", "on": "L1.S", "from_left": 7000, "corner_with": "q"} | shared)
        order["openings"].append({"id": "q", "on": "L1.E", "from_left": 0, "corner_with": "p"} | shared | other)

    return change


def bearing(**more: Any) -> Change:
    base = {"id": "B", "level": "L1", "line": [[4000, 200], [4000, 5800]], "top": 2600}
    return lambda order: order.update(bearing_walls=[base | more])


SPOILED: list[tuple[str, Change, str, str]] = [
    ("self-crossing", put("outlines.o.corners.1.at", [4000, 9000]), "outlines.o.corners", "cross"),
    ("clockwise", lambda o: o["outlines"]["o"]["corners"].reverse(), "outlines.o.corners", "clockwise"),
    ("flat", put("outlines.o.corners.2.at", [4000, 0]), "outlines.o.corners", "cross or touch"),
    ("corner twice", put("outlines.o.corners.2.at", [8000, 0]), "outlines.o.corners[2]", "lies on corner 'b'"),
    ("corner id twice", put("outlines.o.corners.2.id", "a"), "outlines.o.corners[2].id", "given twice"),
    ("wall id twice", put("outlines.o.walls.2", "S"), "outlines.o.walls[2]", "given twice"),
    ("walls short", drop("outlines.o.walls.3"), "outlines.o.walls", "3 walls for 4 corners"),
    ("sharp corner", put("outlines.o.corners.1.at", [20000, -3000]), "outlines.o.corners[1]", "inside angle is"),
    ("mitre out of reach", put("outlines.o.corners.1.at", [10000, 0]), "outlines.o.corners[1].joint", "tilt of"),
    (
        "through elsewhere",
        put("outlines.o.corners.1.joint", {"kind": "lapped", "through": "N"}),
        "outlines.o.corners[1].joint.through",
        "does not end at this corner",
    ),
    (
        "lap unsaid",
        put("outlines.o.corners.1.joint", {"kind": "lapped"}),
        "outlines.o.corners[1].joint.through",
        "is missing",
    ),
    (
        "mitre with through",
        put("outlines.o.corners.1.joint", {"kind": "mitred", "through": "S"}),
        "outlines.o.corners[1].joint.through",
        "no wall that runs through",
    ),
    ("too far", put("outlines.o.corners.1.at", [8e5, 0]), "outlines.o.corners[1].at[0]", "over 500 m"),
    ("unknown outline", put("levels.0.outline", "p"), "levels[0].outline", "not an outline"),
    ("unknown wall of level", put("levels.0.walls", {"X": {"base": 0}}), "levels[0].walls.X", "no such wall"),
    ("no height", put("levels.0.top", 0), "levels[0].top", "high"),
    (
        "too high for a wall that may not be lapped",
        lambda o: o.update(families={"wall": "W4"}, levels=[o["levels"][0] | {"top": "20 m"}]),
        "levels[0].top",
        "over the 12192 mm",
    ),
    ("roofless", put("levels.0.top", "roof"), "levels[0].top", "no roof is over"),
    ("level twice", lambda o: o["levels"].append(dict(o["levels"][0], base=2700)), "levels[1].id", "given twice"),
    (
        "levels in one another",
        lambda o: (o["levels"].append(dict(o["levels"][0], id="L2", base=2000)), o["deliveries"][0]["parts"].append("L2")),
        "levels[1].base",
        "below the top of level 'L1'",
    ),
    (
        "outline ends short",
        put("levels.0.walls", {"S": {"top": {"outline": [[0, 2700], [7000, 2700]]}}}),
        "levels[0].walls.S.top.outline[1][0]",
        "ends at 7000 mm",
    ),
    (
        "outline backwards",
        put("levels.0.walls", {"S": {"top": {"outline": [[0, 2700], [5000, 3000], [4000, 3000], [8000, 2700]]}}}),
        "levels[0].walls.S.top.outline[2][0]",
        "runs backwards",
    ),
    ("off the left", put("openings.0.from_left", -10), "openings[0].from_left", "off the wall"),
    ("off the right", put("openings.0.from_left", 7000), "openings[0].width", "off wall L1.S"),
    ("over the top", put("openings.0.height", 1800), "openings[0].height", "only 2700 mm high"),
    ("below the base", put("openings.0.sill", -1), "openings[0].sill", "below the wall's base"),
    ("in the corner", put("openings.0.from_left", 100), "openings[0].from_left", "next wall stands"),
    ("no sill", drop("openings.0.sill"), "openings[0].sill", "is missing"),
    ("door with a sill", put("openings.1.sill", 100), "openings[1].sill", "a door with a sill"),
    ("unknown wall", put("openings.0.on", "L1.X"), "openings[0].on", "no wall or roof plane"),
    ("window up a slope", put("openings.0.up", 100), "openings[0].up", "no `up`"),
    ("skylight on a wall", put("openings.0.kind", "skylight"), "openings[0].on", "a skylight on a wall"),
    ("overlapping", add_opening(on="L1.S", from_left=3000), "openings[2]", "overlaps or touches opening 'w'"),
    ("touching", add_opening(on="L1.S", from_left=3200), "openings[2]", "overlaps or touches opening 'w'"),
    ("opening id twice", add_opening(id="w"), "openings[2].id", "given twice"),
    ("no partner", add_opening(corner_with="none"), "openings[2].corner_with", "no opening of this order"),
    ("one-sided link", add_opening(corner_with="w"), "openings[2].corner_with", "not linked back"),
    ("pair apart", corner_pair(from_left=500), "openings[2].corner_with", "do not meet at a corner"),
    ("pair unlike", corner_pair(sill=800, height=1100), "openings[2].corner_with", "sills of 'p' and 'q' differ"),
    ("pair of heads", corner_pair(height=1100), "openings[2].corner_with", "heads of 'p' and 'q' differ"),
    ("negative", put("openings.0.width", -5), "openings[0].width", "not above 0"),
    ("zero", put("openings.0.height", 0), "openings[0].height", "not above 0"),
    ("not a number", put("openings.0.width", float("nan")), "openings[0].width", "not a finite number"),
    ("unknown field", put("openings.0.colour", "red"), "openings[0].colour", "not a known field"),
    ("no unit in a text", put("openings.0.width", "12"), "openings[0].width", "states no unit"),
    ("no unit", drop("unit"), "unit", "is missing"),
    ("newer format", put("format", 2), "format", "not known here"),
    ("unknown family", put("families", {"wall": "W9"}), "families.wall", "no wall panel of this plant"),
    ("roof family for walls", put("families", {"wall": "R6"}), "families.wall", "no wall panel of this plant"),
    ("unknown colour", put("colours", {"wall": {"outside": "puce"}}), "colours.wall.outside", "no colour of this plant"),
    ("unknown stud", put("families", {"bearing": "base-6"}), "families.bearing", "no stud of this plant"),
    ("bearing nowhere", bearing(level="L9"), "bearing_walls[0].level", "not a level"),
    ("bearing outside", bearing(line=[[4000, 200], [4000, 7000]]), "bearing_walls[0].line[1]", "outside outline"),
    (
        "bearing opening off",
        bearing(openings=[{"id": "o", "from": 5000, "width": 900, "height": 2000}]),
        "bearing_walls[0].openings[0].width",
        "off the wall's",
    ),
    (
        "bearing opening high",
        bearing(openings=[{"id": "o", "from": 500, "width": 900, "height": 2600}]),
        "bearing_walls[0].openings[0].height",
        "not below the wall's top",
    ),
    ("roof over nothing", add_roof(over="L9"), "roofs[0].over", "not a level"),
    ("wide hip", add_roof(kind="hip", ridge=None, overhang={"eave": "20'"}), "roofs[0].overhang.eave", "no overhang"),
    ("steep", add_roof(pitch="85 deg"), "roofs[0].pitch", "no roof pitch"),
    ("pitch in words", add_roof(pitch="steep"), "roofs[0].pitch", "is not a pitch"),
    ("overhang below nothing", add_roof(overhang={"eave": -1}), "roofs[0].overhang.eave", "below 0"),
    ("wide overhang", add_roof(overhang={"eave": "20'"}), "roofs[0].overhang.eave", "no overhang"),
    ("one rake", add_roof(overhang={"rake": {"E": 300}}), "roofs[0].overhang.rake", "one rake only"),
    ("rake of an eave", add_roof(overhang={"rake": {"E": 300, "S": 1, "W": 1}}), "roofs[0].overhang.rake.S", "no wall under"),
    ("shed from nowhere", add_roof(kind="shed", ridge=None, low="X"), "roofs[0].low", "no wall under this roof"),
    ("low eave", add_roof(eave_z=-100), "levels[0].top", "no height"),
    ("unknown zone", put("site.time_zone", "Mars/Base"), "site.time_zone", "not a known time zone"),
    ("unknown side", put("site.unload_from", ["top"]), "site.unload_from[0]", "not known here"),
    ("side twice", put("site.unload_from", ["rear", "rear"]), "site.unload_from", "twice"),
    ("no such day", put("deliveries.0.need_by", "2031-02-30T07:00"), "deliveries[0].need_by", "no date and time"),
    ("skipped hour", put("deliveries.0.need_by", "2031-03-09T02:30"), "deliveries[0].need_by", "clocks skip it"),
    ("with offset", put("deliveries.0.need_by", "2031-05-12T07:00Z"), "deliveries[0].need_by", "is not a local time"),
    ("unknown part", put("deliveries.0.parts", ["L1", "R"]), "deliveries[0].parts[1]", "no level or roof"),
    ("part left behind", put("deliveries.0.parts", ["L2"]), "deliveries", "none brings L1"),
    ("part twice", put("deliveries.0.parts", ["L1", "L1"]), "deliveries[0].parts[1]", "comes twice"),
    ("start nowhere", put("start", {"corner": "z"}), "start.corner", "not a corner"),
    ("bolt nowhere", put("anchors", {"measured": [{"id": "m", "on": "L1.X", "along": 1, "across": 1}]}),
     "anchors.measured[0].on", "no wall of this order"),
    ("bolt off", put("anchors", {"measured": [{"id": "m", "on": "L1.S", "along": 9000, "across": 1}]}),
     "anchors.measured[0].along", "off the wall's"),
    ("replaces later", put("replaces", 1), "replaces", "can't replace"),
    ("arch over half", put("openings.0.head", {"kind": "arch", "rise": 1900}), "openings[0].head.rise", "over half the width"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "path", "problem"), [row[1:] for row in SPOILED], ids=[row[0] for row in SPOILED])
def test_each_fault_is_named_at_its_path(change: Change, path: str, problem: str) -> None:
    found = spoiled(change)
    assert path in found, found
    assert problem in found[path]


def test_the_box_itself_has_no_fault() -> None:
    assert faults_of(box()) == {}


@pytest.mark.parametrize("name", DEMOS)
def test_demo_orders_read_without_faults(name: str) -> None:
    assert faults_of(demo(name)) == {}


def test_all_faults_come_in_one_answer_though_the_form_is_broken_too() -> None:
    order = box()
    order["colour"] = "red"  # unknown field
    order["outlines"]["o"]["corners"][1]["at"] = [4000, 9000]  # crosses itself
    order["openings"][0]["from_left"] = 17900  # off its wall
    order["openings"][1]["width"] = "NaN"
    order["openings"].append(dict(order["openings"][0], id="y", width="-3 ft"))
    order["openings"] += [dict(order["openings"][0], id=name, on="L1.N", from_left=2000) for name in ("z1", "z2")]
    order["levels"][0]["top"] = "9'"
    order["deliveries"][0]["need_by"] = "soon"
    found = faults_of(order)
    assert {
        "colour",
        "outlines.o.corners",
        "openings[0].width",
        "openings[1].width",
        "openings[2].width",
        "openings[4]",
        "deliveries[0].need_by",
    } <= set(found)


def test_a_part_that_could_not_be_read_is_not_called_unknown_elsewhere() -> None:
    order = box()
    order["levels"][0]["top"] = "high"
    assert set(faults_of(order)) == {"levels[0].top"}


def test_a_roof_that_could_not_be_read_does_not_make_its_walls_faulty() -> None:
    order = with_gable(box(), pitch="steep")
    assert set(faults_of(order)) == {"roofs[0].pitch"}


def test_a_given_top_more_than_a_millimetre_off_the_roof_is_a_fault() -> None:
    apex = 2700 + 3000 * 3**-0.5
    for off, sound in ((0.0, True), (0.9, True), (-0.9, True), (1.1, False), (-1.1, False)):
        order = with_gable(box())
        outline = [[0, 2700], [3000, round(apex + off, 6)], [6000, 2700]]
        order["levels"][0]["walls"] = {"E": {"top": {"outline": outline}}}
        found = faults_of(order)
        assert (found == {}) is sound, (off, found)
        if not sound:
            assert "from the roof's lower face" in found["levels[0].walls.E.top"]


def test_a_gable_over_an_l_is_refused_with_the_wall_that_is_off_the_rectangle() -> None:
    order = demo("ell-12")
    order["roofs"] = [{"id": "R", "kind": "gable", "over": "L1", "ridge": "x", "pitch": "6/12", "eave_z": "8'"}]
    assert "does not lie on a rectangle" in faults_of(order)["roofs[0].over"]


def test_ten_megabytes_are_refused_before_they_are_parsed() -> None:
    with pytest.raises(InputError, match=r"order: 10\.0 MB is over the limit of 4 MB"):
        read_json(b" " * 10_000_000, name="order")


def test_too_many_openings_are_refused() -> None:
    order = box()
    order["openings"] = [dict(order["openings"][0], id=f"w{n}") for n in range(2001)]
    assert "0 to 2000 items" in str(_error(order))


def test_faults_survive_pickling() -> None:
    error = _error({})
    again = pickle.loads(pickle.dumps(error))
    assert again.faults == error.faults
    assert len(error.faults) >= 6


def _error(order: Any) -> InputError:
    with pytest.raises(InputError) as caught:
        read_order(order, plant())
    return caught.value


def test_an_order_with_more_walls_than_one_order_may_hold_is_refused_at_once() -> None:
    order = box()
    circle = [{"id": f"c{n}", "at": [n * 100, n * n]} for n in range(200)]
    order["outlines"]["o"] = {"corners": circle, "walls": [f"w{n}" for n in range(200)]}
    order["levels"] = [dict(order["levels"][0], id=f"L{n}", base=3000 * n) for n in range(6)]
    assert faults_of(order) == {"levels": "1200 walls in one order"}
