"""What an event makes of a thing: one function, for who writes it down and for who builds all of it anew."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import reduce
from typing import Protocol, cast

from solver.book.event_order import RecordedEvent, in_order_of_occurrence, parse_utc_instant
from solver.book.things import question_id
from solver.domain import event as told
from solver.domain.book import (
    BLANK,
    AnyState,
    BarState,
    BundleState,
    ItemState,
    LabelState,
    LoadState,
    PieceState,
    Question,
    QuestionKind,
    Reservation,
    Thing,
    is_unanswered,
    with_answer,
)


def apply_event(state: AnyState, event: told.AnyEvent, *, stands: bool = True) -> AnyState:
    """Return the state of a thing after an event that tells of it; what says nothing of such a thing changes nothing.

    What was undone leaves one trace: the making that a scrap had asked for is never given again, for a label may bear it.
    """
    if not stands:
        lost = isinstance(state, PieceState) and isinstance(event, told.Scrapped | told.Damaged)
        return replace(state, highest=state.highest + 1) if lost and isinstance(state, PieceState) else state
    if isinstance(event, told.Answered):
        return replace(state, questions=with_answer(state.questions, event.question, event.answer, event.id))
    if isinstance(state, PieceState):
        return _piece(state, event)
    if isinstance(state, BarState):
        return _bar(state, event)
    if isinstance(state, BundleState):
        return _bundle(state, event)
    if isinstance(state, LoadState):
        return _load(state, event)
    if isinstance(state, LabelState):
        return _label(state, event)
    return _item(state, event)


def state_from_events(thing: Thing, events: Iterable[RecordedEvent]) -> AnyState:
    """Return a thing's state from all events that tell of it, in whatever order they are given."""
    blank = cast(AnyState, BLANK[thing.kind](name=thing.name))
    ordered = sorted(
        in_order_of_occurrence(events), key=lambda one: isinstance(one.event, told.Answered)
    )  # an answer waits for no clock
    return reduce(lambda state, one: apply_event(state, one.event, stands=one.stands), ordered, blank)


def _ask(thing: Thing, kind: QuestionKind, event: told.AnyEvent, *others: str | None) -> Question:
    events = (*(one for one in others if one is not None), event.id)
    at = parse_utc_instant(event.at).isoformat()
    return Question(id=question_id(kind, event.id), kind=kind, about=thing.name, events=events, at=at)


def _piece(state: PieceState, event: told.AnyEvent) -> PieceState:
    def asked(kind: QuestionKind, *others: str | None, changed: PieceState = state) -> PieceState:
        question = _ask(Thing("piece", state.name), kind, event, *others)
        return replace(changed, questions=(*changed.questions, question))

    if isinstance(event, told.Cut):
        return _piece_cut(state, event, asked)
    if isinstance(event, told.Scrapped):
        return _piece_scrapped(state, event, event.making, event.bar, asked)
    if isinstance(event, told.Damaged):
        return _piece_scrapped(state, event, None, None, asked)
    if isinstance(event, told.NotHere):
        return asked("not_here")
    if isinstance(event, told.Laid):
        if event.making is not None and event.making < state.making:
            return asked("laid_void", state.scrap)
        making = max(state.making, event.making or 1)
        changed = replace(state, state="laid", making=making, highest=max(state.highest, making), bundle=event.bundle)
        return replace(changed, event=event.id, at=event.at)
    if isinstance(event, told.On | told.BundleClosed) and state.state == "cut":  # nobody taps each piece of a stack
        return replace(state, bundle=event.bundle)
    return state


class _Asks(Protocol):
    """How a rule asks: a question's kind, the other events, and the state that it leaves."""

    def __call__(self, kind: QuestionKind, *others: str | None, changed: PieceState = ...) -> PieceState: ...


def _piece_cut(state: PieceState, event: told.Cut, asked: _Asks) -> PieceState:
    making = event.making or state.making
    if making < state.making:
        return asked("cut_void", state.scrap)
    if making == state.making and state.state != "wanted":
        return asked("cut_twice", state.event)
    changed = replace(state, state="cut", making=making, highest=max(state.highest, making), bar=event.bar, bundle=None)
    changed = replace(changed, event=event.id, at=event.at)
    return asked("cut_unasked", changed=changed) if making > state.making else changed


def _piece_scrapped(state: PieceState, event: told.AnyEvent, making: int | None, bar: str | None, asked: _Asks) -> PieceState:
    """A scrap asks for the next making. Told again before that was cut, and of no other bar, it is the same scrap."""
    other_bar = bar is not None and state.scrap_bar is not None and bar != state.scrap_bar
    again = state.state == "wanted" and state.making > 1 and not other_bar
    if (making is None and again) or (making is not None and making < state.making):
        return asked("scrapped_twice", state.scrap)
    following = max(state.highest, making or 1) + 1
    return PieceState(
        name=state.name,
        making=following,
        highest=following,
        event=event.id,
        at=event.at,
        scrap=event.id,
        scrap_bar=bar,
        questions=state.questions,
    )


def _bar(state: BarState, event: told.AnyEvent) -> BarState:
    if isinstance(event, told.BarBegun):
        return replace(state, state="begun", item=event.item or state.item, event=event.id)
    if isinstance(event, told.BarSetAside):
        return replace(state, state="set_aside", item=None if event.item is not None else state.item, event=event.id)
    if isinstance(event, told.BarNotInRack):
        return replace(state, event=event.id)
    if isinstance(event, told.Cut | told.Scrapped):
        begun = "begun" if state.state == "to_come" else state.state
        pieces = tuple(dict.fromkeys((*state.pieces, event.piece)))
        return replace(state, state=begun, pieces=pieces, event=event.id)
    if isinstance(event, told.Flaw):
        return replace(state, flaws=(*state.flaws, (event.from_nm, event.to_nm)), event=event.id)
    if isinstance(event, told.DropPutAway):
        return replace(state, state="done", rest="put_away", drop_item=event.item, drop_nm=event.length_nm, event=event.id)
    if isinstance(event, told.DropBinned):
        return replace(state, state="done", rest="binned", event=event.id)
    return state


def _bundle(state: BundleState, event: told.AnyEvent) -> BundleState:
    thing = Thing("bundle", state.name)
    if isinstance(event, told.Laid):
        return replace(state, waits=tuple(one for one in state.waits if one != event.piece), event=event.id)
    if isinstance(event, told.BundleClosed):
        return replace(state, state="closed", load=None, event=event.id, at=event.at)
    if isinstance(event, told.BundleOpened):
        return replace(state, state="open", load=None, event=event.id, at=event.at)
    if isinstance(event, told.On):
        changed = replace(state, state="on", load=event.load, event=event.id, at=event.at)
        if state.state == "on" and state.load != event.load:
            question = _ask(thing, "on_twice", event, state.event)
            return replace(changed, questions=(*state.questions, question))
        return changed
    if isinstance(event, told.Off):
        return replace(state, state="closed", load=None, event=event.id, at=event.at)
    if isinstance(event, told.Damaged | told.NotHere):
        if event.piece is not None:
            waits = tuple(dict.fromkeys((*state.waits, event.piece)))
            return replace(state, state="open", load=None, waits=waits, event=event.id, at=event.at)
        kind: QuestionKind = "damaged" if isinstance(event, told.Damaged) else "not_here"
        question = _ask(thing, kind, event)
        return replace(state, state="closed", load=None, event=event.id, at=event.at, questions=(*state.questions, question))
    return state


def _load(state: LoadState, event: told.AnyEvent) -> LoadState:
    if not isinstance(event, told.Left):
        return state
    if state.state == "left":
        question = _ask(Thing("load", state.name), "left_twice", event, state.event)
        return replace(state, questions=(*state.questions, question))
    return replace(
        state,
        state="left",
        without=event.without,
        why=event.reason,
        seal=event.seal,
        signature=event.signature,
        event=event.id,
        at=event.at,
    )


def _label(state: LabelState, event: told.AnyEvent) -> LabelState:
    if isinstance(event, told.Printed):
        return replace(state, state="printed", of=event.label, making=event.making, printer=event.printer, event=event.id)
    if isinstance(event, told.Voided):
        return replace(state, state="void", of=event.label, making=event.making, event=event.id)
    return state


def _item(state: ItemState, event: told.AnyEvent) -> ItemState:
    changed = replace(_item_moved(state, event), event=event.id)
    if isinstance(event, told.Counted):  # whoever counts has answered all that was to be counted
        done = tuple(replace(one, closed=True) if one.kind in ("to_count", "not_here") else one for one in changed.questions)
        changed = replace(changed, questions=done)
    waiting = any(one.kind == "to_count" and is_unanswered(one) for one in changed.questions)
    if (changed.count < 0 or isinstance(event, told.BarNotInRack)) and not waiting:
        question = _ask(Thing("item", state.name), "to_count", event)
        changed = replace(changed, questions=(*changed.questions, question))
    return _kept_promises(changed, event)


def _kept_promises(state: ItemState, event: told.AnyEvent) -> ItemState:
    """What was promised beyond what is left is taken back from who was promised last, and a person is told."""
    over = state.reserved - max(0, state.count)
    if over <= 0:
        return state
    kept: list[Reservation] = []
    for one in reversed(state.reservations):
        less = min(over, one.count)
        over -= less
        if one.count > less:
            kept.insert(0, replace(one, count=one.count - less))
    question = _ask(Thing("item", state.name), "reserved_short", event)
    asked = state.questions if any(one.id == question.id for one in state.questions) else (*state.questions, question)
    return replace(state, reservations=tuple(kept), questions=asked)


def _item_moved(state: ItemState, event: told.AnyEvent) -> ItemState:
    if isinstance(event, told.Received):
        return _item_received(state, event)
    if isinstance(event, told.DropPutAway):
        return replace(
            state,
            stock="remnant",
            joints=event.joints,
            material=event.material or state.material,
            length_nm=event.length_nm,
            width_nm=event.width_nm,
            place=event.place,
            source=event.bar,
            since=event.at,
            received=state.received + 1,
        )
    if isinstance(event, told.Counted):
        return replace(state, found=state.found + event.count - state.count, place=event.place or state.place)
    if isinstance(event, told.Drawn):
        return _held_less(replace(state, drawn=state.drawn + event.count), event.release, event.count)
    if isinstance(event, told.BarBegun):
        return _held_less(replace(state, drawn=state.drawn + 1), event.release, 1)
    if isinstance(event, told.BarSetAside):
        return replace(state, returned=state.returned + 1)
    if isinstance(event, told.Returned):
        return replace(state, returned=state.returned + event.count, place=event.place or state.place)
    if isinstance(event, told.StockScrapped):
        return replace(state, scrapped=state.scrapped + event.count)
    if isinstance(event, told.Moved):
        return replace(state, place=event.place)
    if isinstance(event, told.Reserved):  # what comes late may find less than was there when it was granted
        given = min(event.count, state.free)
        if given <= 0:
            return state
        held = state.held_by(event.holder) + given
        others = tuple(one for one in state.reservations if one.holder != event.holder)
        return replace(state, reservations=(*others, Reservation(holder=event.holder, count=held)))
    if isinstance(event, told.Freed):
        return _held_less(state, event.holder, event.count or state.held_by(event.holder))
    return state


def _item_received(state: ItemState, event: told.Received) -> ItemState:
    if state.received:
        return replace(state, received=state.received + event.count, place=event.place or state.place)
    return replace(
        state,
        stock=event.stock,
        material=event.material or "",
        length_nm=event.length_nm,
        width_nm=event.width_nm,
        thickness_nm=event.thickness_nm,
        joints=event.joints,
        weight_g=event.weight_g,
        litres=event.litres,
        called=event.name,
        heat=event.heat,
        batch=event.batch,
        ready=event.ready,
        place=event.place,
        source=event.source,
        since=event.put_away or event.at,
        received=event.count,
    )


def _held_less(state: ItemState, holder: str | None, count: int) -> ItemState:
    if holder is None:
        return state
    held = tuple(
        replace(one, count=one.count - min(count, one.count)) if one.holder == holder else one for one in state.reservations
    )
    return replace(state, reservations=tuple(one for one in held if one.count > 0))
