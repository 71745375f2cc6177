"""Marks: stable when another part changes; kept over a revision where a piece is made alike; never used twice."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import pytest

from solver.codec import decode, encode
from solver.domain.ids import OrderId, PieceId
from solver.domain.takeoff import Revision, Takeoff
from solver.errors import InputError
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import Nm
from tests.generators.walls import box, building_of, metric_plant, opening, walls_of

BOX = box(9000, 7000)


def told_by(taken: Takeoff) -> Revision:
    assert taken.revised is not None
    return taken.revised


def test_marks_are_the_walls_id_and_a_number_within_it_each_used_once() -> None:
    taken = take_off(building_of(walls_of(BOX, openings={0: [opening("w", 2000, 3000, 900, 2100)]})), metric_plant())
    marks = [piece.mark for piece in taken.pieces]
    assert len(set(marks)) == len(marks)
    assert all(piece.mark.startswith(f"{piece.group}-") and piece.id == f"test-1/{piece.mark}" for piece in taken.pieces)
    assert [piece.stands for piece in taken.pieces] == list(range(1, len(marks) + 1))
    row = [piece for piece in taken.pieces if piece.group == "L1.1" and piece.role == "wall_panel"]
    assert [piece.mark for piece in sorted(row, key=lambda piece: piece.outline[0])][:2] == ["L1.1-01", "L1.1-02"]


def test_a_change_to_one_wall_changes_no_mark_of_another() -> None:
    plain = take_off(building_of(walls_of(BOX)), metric_plant())
    changed = take_off(building_of(walls_of(BOX, openings={2: [opening("w", 2000, 3000, 900, 2100)]})), metric_plant())
    others = [{p.mark: (p.role, p.outline) for p in taken.pieces if p.group != "L1.2"} for taken in (plain, changed)]
    assert others[0] == others[1]


def test_pieces_made_alike_keep_their_marks_over_a_revision() -> None:
    plant = metric_plant()
    window = opening("w", 2000, 3000, 900, 2100)
    before = take_off(
        building_of(walls_of(BOX, openings={0: [window]}, base=2700)), plant
    )  # an upper floor: no bolts, no pockets
    moved = opening("w", 3200, 4200, 900, 2100)
    revised = take_off(replace(building_of(walls_of(BOX, openings={0: [moved]}, base=2700)), revision=2), plant, before)
    told = told_by(revised)
    assert told.since == 1
    assert set(told.kept) | set(told.changed) | set(told.new) == {piece.id for piece in revised.pieces}
    assert set(told.kept) | set(told.obsolete) == {piece.id for piece in before.pieces}
    # the window moved by one module: the panel it is cut from is the same but for its place, and what was cut is used
    cut = [
        next(p for p in taken.pieces if p.cutouts and p.outline[0][0] < p.cutouts[0].outline[0][0])
        for taken in (before, revised)
    ]
    assert cut[0].id in told.kept and cut[0].mark == cut[1].mark
    assert cut[1].outline[0][0] - cut[0].outline[0][0] == 1_200_000_000
    assert all(piece.group == "L1.0" for piece in revised.pieces if piece.id in {*told.changed, *told.new})
    assert revised.pieces == tuple(sorted(revised.pieces, key=lambda piece: piece.stands))


def test_a_mark_that_fell_away_is_never_used_again() -> None:
    plant = metric_plant()
    buildings = [
        replace(building_of(walls_of(box(width, 7000))), revision=n + 1) for n, width in enumerate((9000, 8000, 9000, 10000))
    ]
    now = take_off(buildings[0], plant)
    retired: set[str] = set()
    for building in buildings[1:]:
        before = now
        now = take_off(building, plant, before)
        told = told_by(now)
        assert check(building, plant, now, before).faults == ()
        gone = {piece.mark for piece in before.pieces if piece.id in told.obsolete}
        retired |= gone
        assert gone and set(now.retired) == retired
        assert not retired & {piece.mark for piece in now.pieces}
        assert len({piece.mark for piece in now.pieces}) == len(now.pieces)


def test_a_revision_that_changes_nothing_keeps_every_piece() -> None:
    plant = metric_plant()
    before = take_off(building_of(walls_of(BOX)), plant)
    building = replace(building_of(walls_of(BOX)), revision=2)
    revised = take_off(building, plant, before)
    told = told_by(revised)
    assert told.kept == tuple(piece.id for piece in before.pieces)
    assert not (told.changed or told.new or told.obsolete)
    assert revised.pieces == take_off(building, plant).pieces


def test_levels_stand_one_after_the_other_base_channel_first_and_caps_last() -> None:
    walls = [*walls_of(BOX, openings={1: [opening("w", 2000, 3000, 900, 2100)]}), *walls_of(BOX, level="L2", base=2700)]
    taken = take_off(building_of(walls), metric_plant())
    stages: list[tuple[str, str]] = []
    for piece in taken.pieces:
        if not stages or stages[-1] != (piece.part, piece.role):
            stages.append((piece.part, piece.role))
    ground = ["base_channel", "wall_panel", "opening_channel", "corner_angle", "top_cap"]
    assert stages == [*(("L1", role) for role in ground), *(("L2", role) for role in ("wall_panel", "corner_angle", "top_cap"))]
    panels = [piece for piece in taken.pieces if piece.role == "wall_panel" and piece.part == "L1"]
    assert [piece.group for piece in panels[:2]] == ["L1.0", "L1.3"]
    runs = [piece.group for n, piece in enumerate(panels[2:], start=2) if piece.group != panels[n - 1].group]
    assert runs == ["L1.0", "L1.1", "L1.2", "L1.3"]


def test_a_level_without_the_start_corner_closes_as_well() -> None:
    """Case S5: both panels of its first corner stand first, and the panel that closes it last."""
    building = building_of(walls_of(BOX), start_corner="of another outline")
    panels = [piece for piece in take_off(building, metric_plant()).pieces if piece.role == "wall_panel"]
    assert [piece.group for piece in panels[:2]] == ["L1.0", "L1.3"]
    assert [piece.closing for piece in panels] == [False] * (len(panels) - 1) + [True]


def test_a_takeoff_reads_back_from_its_json_as_it_was() -> None:
    before = take_off(building_of(walls_of(BOX, openings={0: [opening("w", 2000, 3000, 900, 2100)]})), metric_plant())
    revised = take_off(replace(building_of(walls_of(box(8000, 7000))), revision=2), metric_plant(), before)
    assert before.drops and revised.retired and revised.revised
    for taken in (before, revised):
        assert decode(Takeoff, json.loads(json.dumps(encode(taken))), name="takeoff", unit="mm") == taken


def revised_twice() -> tuple[Takeoff, Takeoff]:
    """A takeoff with a window, and its revision with the window elsewhere."""
    windows = opening("w", 2000, 3000, 900, 2100), opening("w", 4500, 5500, 900, 2100)
    buildings = [replace(building_of(walls_of(BOX, openings={0: [w]})), revision=n) for n, w in enumerate(windows, start=1)]
    before = take_off(buildings[0], metric_plant())
    return before, take_off(buildings[1], metric_plant(), before)


def test_planned_again_a_revision_still_tells_what_it_changed() -> None:
    _, revised = revised_twice()
    again = take_off(revised.building, metric_plant(), revised)
    assert again.pieces == revised.pieces and again.retired == revised.retired
    assert again.revised == revised.revised and told_by(again).since == 1


def test_drops_warnings_and_broken_rules_name_the_marks_that_stay() -> None:
    _, revised = revised_twice()
    ids = {piece.id for piece in revised.pieces}
    assert revised.drops and {drop.piece for drop in revised.drops} <= ids


def test_an_earlier_takeoff_of_another_order_or_a_later_revision_is_refused() -> None:
    before, revised = revised_twice()
    with pytest.raises(InputError, match="older than revision 2"):
        take_off(before.building, metric_plant(), revised)
    with pytest.raises(InputError, match="is of order"):
        take_off(replace(before.building, order=OrderId("other")), metric_plant(), before)


def reused(revised: Takeoff) -> Takeoff:
    """A piece that is new under a mark that fell away."""
    fresh = next(p for p in revised.pieces if p.id in {*told_by(revised).changed, *told_by(revised).new})
    old = next(mark for mark in revised.retired if mark.startswith(f"{fresh.group}-"))
    spoiled = replace(fresh, mark=old, id=PieceId(f"{fresh.order}/{old}"))
    return replace(revised, pieces=tuple(spoiled if piece is fresh else piece for piece in revised.pieces))


def longer(revised: Takeoff) -> Takeoff:
    """A kept piece that is cut otherwise than it was."""
    kept = next(piece for piece in revised.pieces if piece.id in told_by(revised).kept)
    spoiled = replace(kept, weight_g=kept.weight_g, edge_a=(kept.edge_a[0], Nm(kept.edge_a[1] + 1)))
    return replace(revised, pieces=tuple(spoiled if piece is kept else piece for piece in revised.pieces))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (reused, "keeps its mark and differs"),
        (reused, "fell away in an earlier revision"),
        (longer, "keeps its mark and differs"),
        (lambda taken: replace(taken, retired=()), "lacks"),
        (lambda taken: replace(taken, retired=()), "its mark is not retired"),
        (lambda taken: replace(taken, revised=replace(told_by(taken), kept=())), "does not tell of every piece once"),
        (lambda taken: replace(taken, revised=replace(told_by(taken), obsolete=())), "not the pieces that fell away"),
    ],
)
def test_a_spoiled_revision_is_noticed(spoil: Callable[[Takeoff], Takeoff], said: str) -> None:
    before, revised = revised_twice()
    assert check(revised.building, metric_plant(), revised, before).faults == ()
    faults = check(revised.building, metric_plant(), spoil(revised), before).faults
    assert any(said in fault.problem for fault in faults), faults


def test_marks_given_afresh_to_pieces_made_alike_are_noticed() -> None:
    before, revised = revised_twice()
    building = revised.building
    shifted = take_off(building, metric_plant())
    names = {piece.id: f"{piece.group}-{int(piece.mark[-2:]) + 60}" for piece in shifted.pieces}
    pieces = tuple(
        replace(piece, mark=names[piece.id], id=PieceId(f"{piece.order}/{names[piece.id]}")) for piece in shifted.pieces
    )
    told = replace(told_by(revised), kept=(), changed=(), new=tuple(piece.id for piece in pieces),
                   obsolete=tuple(piece.id for piece in before.pieces))  # fmt: skip
    anew = replace(revised, pieces=pieces, revised=told, retired=tuple(piece.mark for piece in before.pieces))
    faults = check(building, metric_plant(), anew, before).faults
    assert any("a piece alike fell away" in fault.problem for fault in faults)


def test_a_mark_that_fell_away_two_revisions_ago_is_noticed_when_it_comes_back() -> None:
    first, second = revised_twice()
    building = replace(first.building, revision=3)
    third = take_off(building, metric_plant(), second)
    assert check(building, metric_plant(), third, second).faults == ()
    fresh = next(p for p in third.pieces if p.id in {*told_by(third).changed, *told_by(third).new})
    mark = next(mark for mark in second.retired if mark.startswith(f"{fresh.group}-"))
    back = replace(fresh, mark=mark, id=PieceId(f"{fresh.order}/{mark}"))
    spoiled = replace(third, pieces=tuple(back if piece is fresh else piece for piece in third.pieces))
    assert any("used before" in fault.problem for fault in check(building, metric_plant(), spoiled, second).faults)
