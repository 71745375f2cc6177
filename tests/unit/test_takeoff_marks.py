"""Marks: stable when another part changes; kept over a revision where a piece is made alike; never used twice."""

from __future__ import annotations

import json
from dataclasses import replace

from solver.codec import decode, encode
from solver.domain.takeoff import Takeoff
from solver.takeoff.revise import revise
from solver.takeoff.take_off import take_off
from tests.generators.walls import box, building_of, metric_plant, opening, walls_of

BOX = box(9000, 7000)


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
    after = take_off(replace(building_of(walls_of(BOX, openings={0: [moved]}, base=2700)), revision=2), plant)
    revised, told = revise(before, after)
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
    plans = [
        take_off(replace(building_of(walls_of(box(width, 7000))), revision=n + 1), plant)
        for n, width in enumerate((9000, 8000, 9000, 10000))
    ]
    now = plans[0]
    retired: set[str] = set()
    for plan in plans[1:]:
        before = now
        now, told = revise(before, plan)
        gone = {piece.mark for piece in before.pieces if piece.id in told.obsolete}
        retired |= gone
        assert gone and set(now.retired) == retired
        assert not retired & {piece.mark for piece in now.pieces}
        assert len({piece.mark for piece in now.pieces}) == len(now.pieces)


def test_a_revision_that_changes_nothing_keeps_every_piece() -> None:
    plant = metric_plant()
    before = take_off(building_of(walls_of(BOX)), plant)
    after = take_off(replace(building_of(walls_of(BOX)), revision=2), plant)
    revised, told = revise(before, after)
    assert told.kept == tuple(piece.id for piece in before.pieces)
    assert not (told.changed or told.new or told.obsolete)
    assert revised.pieces == after.pieces


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
    after = take_off(replace(building_of(walls_of(box(8000, 7000))), revision=2), metric_plant())
    revised, _ = revise(before, after)
    assert before.drops and revised.retired
    for taken in (before, revised):
        assert decode(Takeoff, json.loads(json.dumps(encode(taken))), name="takeoff", unit="mm") == taken
