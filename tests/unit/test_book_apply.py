"""What events make of things: the same however late and in whatever order they come."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest

from solver.book.apply import state_from_events
from solver.book.event_order import RecordedEvent, ids_of_events_in_force, in_order_of_occurrence
from solver.book.things import affected_things
from solver.book.undo import dependent_events
from solver.domain import event as told
from solver.domain.book import AnyState, BundleState, ItemState, LoadState, PieceState, Thing, bundle_now, piece_now
from solver.units import Nm

PIECE = Thing("piece", "a/P1")


def at(minute: int) -> str:
    return f"2031-05-05T07:{minute:02}:00-06:00"


def cut(n: int, minute: int, **more: Any) -> told.Cut:
    return told.Cut(**{"id": f"e{n}", "kind": "cut", "at": at(minute), "device": "saw-1", "piece": "a/P1", **more})


def scrapped(n: int, minute: int, **more: Any) -> told.Scrapped:
    return told.Scrapped(**{"id": f"e{n}", "kind": "scrapped", "at": at(minute), "piece": "a/P1", **more})


def item(n: int, kind: type[Any], name: str, minute: int, **more: Any) -> Any:
    return kind(**{"id": f"e{n}", "kind": name, "at": at(minute), "item": 1, **more})


def piece(*events: Any) -> PieceState:
    made = state_from_events(PIECE, [RecordedEvent(n, event) for n, event in enumerate(events)])
    assert isinstance(made, PieceState)
    return made


def stock(*events: Any) -> ItemState:
    made = state_from_events(Thing("item", "1"), [RecordedEvent(n, event) for n, event in enumerate(events)])
    assert isinstance(made, ItemState)
    return made


def kinds(state: AnyState) -> list[str]:
    return [one.kind for one in state.questions]


def test_a_piece_is_cut_laid_and_goes_with_its_bundle() -> None:
    laid = told.Laid(id="e2", kind="laid", at=at(2), piece="a/P1", bundle="a/B01")
    made = piece(cut(1, 1), laid)
    assert (made.state, made.making, made.bundle) == ("laid", 1, "a/B01")
    bundle, load = BundleState(name="a/B01", state="on", load="a/L01"), LoadState(name="a/L01")
    assert piece_now(made, bundle_now(bundle, load)) == "on"
    gone = LoadState(name="a/L01", state="left")
    assert piece_now(made, bundle_now(bundle, gone)) == "left"
    without = LoadState(name="a/L01", state="left", without=("a/B01",))
    assert piece_now(made, bundle_now(bundle, without)) == "laid"


def test_two_devices_that_cut_the_same_piece_give_one_cut_and_a_question() -> None:
    made = piece(cut(1, 1), cut(2, 2, device="saw-2"))
    assert (made.state, made.making, made.event) == ("cut", 1, "e1")
    assert [(one.id, one.events) for one in made.questions] == [("cut_twice:e2", ("e1", "e2"))]
    answer = told.Answered(id="a1", kind="answered", at=at(0), question="cut_twice:e2", answer="the same piece")
    assert piece(cut(1, 1), cut(2, 2, device="saw-2"), answer).questions[0].answer == "the same piece"


def test_every_order_of_receipt_gives_the_same_state() -> None:
    events = [cut(1, 1), scrapped(2, 2), cut(3, 3, making=2), scrapped(4, 4, making=2), cut(5, 5, making=1)]
    states = {piece(*some) for some in permutations(events)}
    assert len(states) == 1
    made = states.pop()
    assert (made.making, made.state, kinds(made)) == (3, "wanted", ["cut_void"])


def test_a_scrap_told_twice_asks_for_one_making_and_a_scrap_of_the_next_bar_for_another() -> None:
    assert piece(scrapped(1, 1), scrapped(2, 2)).making == 2
    assert kinds(piece(scrapped(1, 1), scrapped(2, 2))) == ["scrapped_twice"]
    assert piece(scrapped(1, 1, bar="b1"), scrapped(2, 2, bar="b2")).making == 3
    assert piece(scrapped(1, 1, making=1), scrapped(2, 2, making=2)).making == 3
    assert kinds(piece(cut(1, 1, making=3))) == ["cut_unasked"]


def test_a_making_that_was_asked_for_and_taken_back_is_never_given_again() -> None:
    events = [RecordedEvent(1, scrapped(1, 1), stands=False), RecordedEvent(2, scrapped(2, 2))]
    assert state_from_events(PIECE, events[:1]) == PieceState(name="a/P1", highest=2)
    made = state_from_events(PIECE, events)
    assert isinstance(made, PieceState) and (made.making, made.state) == (3, "wanted")


def test_a_device_is_believed_by_its_own_counter_where_its_clock_went_back() -> None:
    first, second = cut(1, 30, counter=7), scrapped(2, 5, device="saw-1", counter=8)
    other = cut(3, 20, device="saw-2")
    assert [
        one.event.id
        for one in in_order_of_occurrence([RecordedEvent(1, second), RecordedEvent(2, other), RecordedEvent(3, first)])
    ] == ["e3", "e1", "e2"]


@pytest.mark.parametrize("more", [0, 1, 2, 3])
def test_undoing_an_undoing_brings_the_event_back(more: int) -> None:
    events: list[told.AnyEvent] = [cut(0, 1)]
    events += [told.Undone(id=f"e{n + 1}", kind="undone", at=at(2), event=f"e{n}") for n in range(more)]
    assert ("e0" in ids_of_events_in_force([RecordedEvent(n, event) for n, event in enumerate(events)])) == (more % 2 == 0)


def test_what_rests_on_an_event_is_told() -> None:
    laid = told.Laid(id="e2", kind="laid", at=at(2), piece="a/P1", bundle="a/B01")
    on = told.On(id="e3", kind="on", at=at(3), bundle="a/B01", load="a/L01", pieces=("a/P1",))
    left = told.Left(id="e4", kind="left", at=at(4), load="a/L01")
    events: list[told.AnyEvent] = [cut(1, 1), laid, on, left]
    by_thing: dict[Thing, list[RecordedEvent]] = {}
    for n, event in enumerate(events):
        for thing in affected_things(event):
            by_thing.setdefault(thing, []).append(RecordedEvent(n, event))
    assert [[one.id for one in dependent_events(event, by_thing)] for event in events] == [["e2"], ["e3"], ["e4"], []]


def test_a_draw_that_the_book_did_not_have_makes_it_negative_and_opens_a_count() -> None:
    came = item(1, told.Received, "received", 1, material="W6", length_nm=Nm(6_000_000_000), count=2)
    made = stock(came, item(2, told.Drawn, "drawn", 2, count=3))
    assert (made.count, kinds(made)) == (-1, ["to_count"])
    counted = stock(came, item(2, told.Drawn, "drawn", 2, count=3), item(3, told.Counted, "counted", 3, count=4))
    assert (counted.count, counted.found, counted.questions[0].closed) == (4, 5, True)


def test_promises_never_exceed_what_is_there_whatever_comes_late() -> None:
    came = item(1, told.Received, "received", 1, material="W6", count=5)
    held = [
        item(2, told.Reserved, "reserved", 2, holder="p1", count=3),
        item(3, told.Reserved, "reserved", 3, holder="p2", count=2),
    ]
    made = stock(came, *held)
    assert (made.reserved, made.free) == (5, 0)
    late = stock(came, *held, item(4, told.Drawn, "drawn", 4, count=1))
    assert [(one.holder, one.count) for one in late.reservations] == [("p1", 3), ("p2", 1)]
    assert kinds(late) == ["reserved_short"]
    own = stock(came, *held, item(4, told.Drawn, "drawn", 4, count=2, release="p1"))
    assert [(one.holder, one.count) for one in own.reservations] == [("p1", 1), ("p2", 2)]
    assert kinds(own) == []
