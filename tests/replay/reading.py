"""Rows read back from words: the text of saw and bevel sheets as PDF, and of the saw's page; millimetres, English."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from solver.documents.names import ThingNames
from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.document import RipRow, SawBar, SawCut, SawPiece, SecondCut
from solver.domain.ids import BarId, MaterialId, PieceId, StockId
from solver.domain.lay import EdgeName, Lay, Lies
from solver.domain.lift import Lift
from solver.domain.plant import Plant
from solver.units import MM, Grams, MicroDeg, Nm

NUMBER = r"(-?[\d.]+)"
PANEL = r"[\d.]+ \w+ (?:wall|roof)(?:, \w+ (?:outside|inside|both faces))+"  # what a panel's material is called
LAY = r"(?P<up>inside|outside) face(?: \((?P<colour>[^)]*)\))? up, (?P<edge>.+?) at the fence, (?P<end>foot|head) end at zero"
SECOND = re.compile(
    rf"(foot|head) end: from {NUMBER} mm at {NUMBER} mm in from the fence to {NUMBER} mm at {NUMBER} mm in, {NUMBER}°"
    rf"(?:, tilt {NUMBER}°, longer face (up|down))?"
)
STEP = re.compile(rf"(foot|head) end: along the panel, {NUMBER} mm in from the fence, from {NUMBER} mm to {NUMBER} mm")
EDGES: dict[str, EdgeName] = {"groove": "groove", "tongue": "tongue"}


def nm(text: str) -> Nm:
    return Nm(round(float(text) * MM))


def lies_of(words: str, role: Any) -> Lies:
    """How a panel lies by the sentence that says so."""
    found = re.search(LAY, words)
    assert found is not None, words
    edge = EDGES.get(found["edge"]) or ("left" if found["edge"].startswith("left") else "right")
    at_left = edge in ("groove", "left")
    lay = Lay(up=found["up"], fence="left" if at_left else "right", zero=found["end"])  # type: ignore[arg-type]
    pair: tuple[EdgeName, EdgeName] = ("groove", "tongue") if edge in EDGES else ("left", "right")
    return Lies(lay=lay, role=role, edges=pair)


def seconds_of(words: str) -> tuple[SecondCut, ...]:
    """The second cuts that a text tells, steps too."""
    made = []
    for end, near, near_in, far, far_in, angle, tilt, long in SECOND.findall(words):
        across = float(far_in) - float(near_in)
        run = (float(far) - float(near)) / across
        assert abs(math.degrees(math.atan(abs(run))) - float(angle)) < 0.2 + math.degrees(0.15 / across)
        made.append(
            SecondCut(
                end=end,
                near_nm=nm(near),
                near_in_nm=nm(near_in),
                far_nm=nm(far),
                far_in_nm=nm(far_in),
                swing_udeg=MicroDeg(round(math.degrees(math.atan(run)) * 1e6)),
                tilt_udeg=MicroDeg(round(float(tilt or 0) * 1e6)),
                long_up=long == "up",
            )
        )
    for end, inside, near, far in STEP.findall(words):
        step = SecondCut(
            end=end, near_nm=nm(near), near_in_nm=nm(inside), far_nm=nm(far), far_in_nm=nm(inside), swing_udeg=MicroDeg(0)
        )
        made.append(step)
    return tuple(made)


def cut_of(
    kind: Any, piece: str, near: str, far: str | None, angle: str | None, away: bool, tilt: str | None, long: str | None,
    on: str | None, wide: float,
) -> SawCut:  # fmt: skip
    """A cut by its words; its swing is taken from the two edges, and must be the one that is told, to the same side."""
    end = far or near
    lean = math.degrees(math.atan2(nm(end) - nm(near), wide))
    told = float(angle or 0) * (1 if away else -1)
    assert abs(lean - told) < 0.15, (piece, lean, told)
    return SawCut(
        kind=kind,
        near_nm=nm(near),
        far_nm=nm(end),
        lean_udeg=MicroDeg(round(lean * 1e6)),
        piece=PieceId(piece),
        mark=piece,
        tilt_udeg=MicroDeg(round(float(tilt or 0) * 1e6)),
        long_up=long == "up",
        on_upper=on != "lower",
    )


def piece_of(name: str, mark: str, lies: Lies, way: str, seconds: tuple[SecondCut, ...]) -> SawPiece:
    return SawPiece(
        at=0,
        piece=PieceId(name),
        mark=mark,
        name=mark,
        turn="as_is",
        long_nm=Nm(0),
        weight_g=Grams(0),
        lift=Lift(by="hands", people=1),
        bundle=None,
        bundle_name="",
        lies=lies,
        seconds=seconds,
        way=way,
    )


def bar_of(name: str, length: str, lies: Lies, wide: float, cuts: Sequence[SawCut], pieces: Sequence[SawPiece]) -> SawBar:
    material = MaterialId(name.partition("#")[0])
    slots = tuple(BarPiece(piece=one.piece, turn="as_is", edge_a=(Nm(0), Nm(0)), edge_b=(Nm(0), Nm(0))) for one in pieces)
    bar = Bar(id=BarId(name), material=material, stock=StockId(""), length_nm=nm(length), drop_nm=Nm(0), pieces=slots)
    return SawBar(
        at=1,
        of=1,
        bar=bar,
        lies=lies,
        what="",
        width_nm=Nm(round(wide)),
        panel=True,
        keep_from_nm=None,
        cuts=tuple(cuts),
        pieces=tuple(pieces),
    )


# --- paper

CUT = re.compile(
    rf"(?<!\S)\d+ {NUMBER} (?:{NUMBER} )?(?:square|{NUMBER}° far edge (longer|shorter)) "
    rf"(?:{NUMBER}°, longer face (up|down); figures on the (upper|lower) face(?:; on top at -?[\d.]+)? )?"
    r"(?:(trim the|cut the) end|(frees|starts) (?:piece )?(\S+))"
)
PIECE = re.compile(
    rf"(\S+) {NUMBER} (?:(?:end for end|turned over end|turned over), )?(foot|head) end at zero, (inside|outside) face up "
    r"[\d.,]+ kg(.*?)(?= \S+ [\d.]+ (?:end for end, |turned over end, |turned over, )?(?:foot|head) end at zero|$)"
)


def saw_bars(pages: Sequence[str], ids: Mapping[str, str], plant: Plant) -> Iterator[SawBar]:
    """Yield the bars of panels that a saw sheet's text tells; `ids`: piece ids by mark."""
    text = " ".join(" ".join(re.sub(r"Saw sheet .*?page \d+ of \d+", "", page, flags=re.S) for page in pages).split())
    pairs = [(one, two) for one in plant.colours for two in plant.colours]
    known = {ThingNames(plant).of(name): name for one in plant.families for a, b in pairs for name in (f"{one.id}|{a}|{b}",)}
    for part in re.split(r"(?=Bars? \d+ (?:to \d+ )?of \d+(?:, alike)?: Pull )", text)[1:]:
        head = re.search(
            rf"Bars? (\d+)(?: to (\d+))? of \d+(?:, alike)?: Pull ({PANEL}), {NUMBER} mm, (?:made|new|from)\b.*? "
            r"Lay it so: (.+?) on your left",
            part,
        )
        if head is None or " face" not in head[5]:
            continue  # a trim's bar
        family = plant.family(known[head[3]].partition("|")[0])
        wide = float(family.cover_nm)
        lies = lies_of(head[5], family.use + "_panel")
        body, _, rest = part.partition("mark length lies weight then ")
        rest, _, grid = rest.partition(" bar piece 1 ")
        cells, *agains = re.split(r"Second cuts, ", rest)
        again = {one.partition(":")[0]: seconds_of(one) for one in agains}
        places = PIECE.findall(cells.replace("piece ", "").strip())
        cuts = CUT.findall(body)
        for n, marks in bars_of(grid, int(head[1]), int(head[2]), len(places)) if head[2] else [(head[1], {})]:
            pieces = []
            for mark, _, end, up, then in places:
                lay = Lay.of(up, zero=end)
                way = then.strip() if re.match(r" (?:one blank with|from the drop of)", then) else ""
                own = Lies(lay=lay, role=lies.role, edges=lies.edges)
                name = marks.get(mark, mark)
                told = again.get(f"piece {mark}" if marks else mark, ())
                pieces.append(piece_of(ids[name], name, own, way, told))
            made = []
            for near, far, angle, side, tilt, long, on, trim, does, mark in cuts:
                kind = "trim" if trim else "part" if does == "frees" else "start"
                name = pieces[0].piece if trim else ids[marks.get(mark, mark)]
                made.append(cut_of(kind, name, near, far, angle, side == "longer", tilt, long, on, wide))
            yield bar_of(f"{known[head[3]]}#{n}", head[4], lies, wide, made, pieces)


def bars_of(grid: str, first: int, last: int, count: int) -> Iterator[tuple[str, dict[str, str]]]:
    """Yield each of the bars that are drawn as one: its number, and the mark of its piece at each place."""
    titles = " ".join(f"piece {n}" for n in range(2, count + 1))
    rows = grid.removeprefix(titles).strip()
    for n in range(first, last + 1):
        found = re.match(rf"{n}((?: \S+(?: to bundle \S+)?){{{count}}})(?= |$)", rows)
        assert found is not None, (n, rows)
        rows = rows[found.end() :].strip()
        marks = re.sub(r" to bundle \S+", "", found[1]).split()
        yield str(n), {str(place): mark for place, mark in enumerate(marks, 1)}


RIP = re.compile(
    rf"(\S+) {PANEL} {NUMBER} (?:right edge|left edge|tongue|groove)"
    rf"(?:, (\d) of (\d))? {NUMBER} {NUMBER}(?= |$)"
)


def rips(pages: Sequence[str], ids: Mapping[str, str]) -> Iterator[RipRow]:
    """Yield the rows that a bevel sheet's text tells."""
    text = " ".join(" ".join(re.sub(r"Rip and bevel sheet .*?page \d+ of \d+", "", page, flags=re.S) for page in pages).split())
    for part in re.split(r"(?=(?:square|tilt [\d.]+°, longer face (?:up|down)) Lay it so)", text)[1:]:
        head = re.match(rf"(?:square|tilt {NUMBER}°, longer face (up|down)) Lay it so: (.+?) on your left", part)
        assert head is not None, part[:200]
        lies = lies_of(head[3], "wall_panel")
        for mark, length, at, of, upper, lower in RIP.findall(part):
            if head[1]:
                assert (float(upper) > float(lower)) == (head[2] == "up")
            yield RipRow(
                piece=PieceId(ids[mark]),
                mark=mark,
                name=mark,
                what="",
                length_nm=nm(length),
                side="right" if lies.lay.fence == "left" else "left",
                lies=lies,
                at=int(at or 1),
                of=int(of or 1),
                bevel_udeg=MicroDeg(round(float(head[1] or 0) * 1e6)),
                upper_nm=nm(upper),
                lower_nm=nm(lower),
                bundle_name="",
            )


# --- the saw's page

STROKE = re.compile(
    r"(?P<first>From zero|First trim the end: from zero|First cut the end slanted: from zero|"
    r"First take off the wedge: from zero)"
    rf", on the fence edge {NUMBER} mm"
    rf"(?: {NUMBER} mm from the last cut)? (?:Square|{NUMBER}° leaning (away from|towards) zero)"
    rf"(?: on the far edge at {NUMBER} mm)?.*?(?:set the blade|same as the last cut)"
    rf"(?: Tilt {NUMBER}°: the longer face lies (up|down) Measured on the (upper|lower) face\.)?"
)
KINDS = {
    "From zero": "part",
    "First trim the end: from zero": "trim",
    "First cut the end slanted: from zero": "trim",
    "First take off the wedge: from zero": "start",
}


def page_cut(text: str, piece: str, wide: float) -> SawCut | None:
    """The stroke that the saw's page shows now, or None where the piece needs none."""
    if "The bar is the piece" in text:
        return None
    found = STROKE.search(text)
    assert found is not None, text
    first, near, _, angle, way, far, tilt, long, on = found.groups()
    return cut_of(KINDS[first], piece, near, far, angle, way == "away from", tilt, long, on, wide)


def page_piece(text: str, name: str, mark: str, lies: Lies) -> SawPiece:
    """The piece that the page shows now: how it lies by where its labels go, and its second cuts."""
    zero = "foot" if "Foot-end label at zero" in text else "head"
    assert zero == "foot" or "Foot-end label at the far end" in text
    up = "inside" if "inside-face label on top" in text else "outside"
    assert up == "inside" or "inside-face label underneath" in text
    own = Lies(lay=Lay.of(up, zero=zero), role=lies.role, edges=lies.edges)  # type: ignore[arg-type]
    way = re.search(r"(one blank with .*? own length|from the drop of .*? is routed)", text)
    return piece_of(name, mark, own, way[1] if way else "", seconds_of(text.partition("Then cut again")[2]))
