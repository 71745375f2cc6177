"""Tell what happened, and read it back."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import datetime
from typing import Any, get_args

from service.clock import utc_now_text
from service.contracts.floor import AnswerGiven, EventBefore, EventKept, EventList, QuestionList, QuestionRead
from service.errors import Conflict, NotFound
from service.ports import Store, Transaction
from service.usecases.ask.floor import plan_of_thing
from service.usecases.floor_bars import stock_item_number
from solver.book.things import affected_things
from solver.book.undo import dependent_events
from solver.codec import decode
from solver.domain.book import ItemState, Question, QuestionKind, is_unanswered
from solver.domain.event import (
    KINDS,
    PLAIN,
    Answered,
    AnyEvent,
    BarBegun,
    BookOpened,
    Cut,
    FloorEvent,
    PlainKind,
    Reserved,
    Scrapped,
    ThingKind,
    Undone,
    event_from_plain,
    event_subject,
)
from solver.errors import FaultCollector, FieldFault, InputError

NAME_MOST = 400  # characters of a name: ids of things are far shorter
MADE = ("cut", "scrapped", "remade")  # what may be told of a piece: the last one that stands counts
PLAIN_KINDS = get_args(PlainKind)
PLAIN_FIELDS = frozenset(item.name for item in fields(FloorEvent))
SAYS: Mapping[QuestionKind, str] = {
    "cut_twice": "two told of the same cut: was it cut once, or twice?",
    "cut_void": "a making was cut that had been scrapped before: is it good?",
    "cut_unasked": "a later making was cut, and nobody told of the scrap: what became of the earlier one?",
    "scrapped_twice": "two told of the same scrap: was one panel lost, or two?",
    "laid_void": "a making that had been scrapped lies on a bundle: is it good?",
    "not_here": "it is not where it should be: was it found?",
    "damaged": "a whole bundle is damaged: which of its pieces?",
    "on_twice": "it was put on two trucks: which carries it?",
    "left_twice": "its truck left twice: which account holds?",
    "to_count": "the book and the rack differ: how many are there?",
    "reserved_short": "fewer are left than releases were promised: which goes without?",
}


def store_event_data(data: Any, *, store: Store) -> EventKept:
    """Keep an event, once however often it is sent. What did happen is never refused: only what is no event at all.

    And what cannot be taken back: what others rest on. Raises InputError with every fault of the message, and Conflict.
    """
    return store_event(read_event(data), store=store)


def store_event(event: AnyEvent, *, store: Store) -> EventKept:
    """Keep an event that was read. Raises Conflict where it would take the ground from under another, or promise too much."""
    subject = event_subject(event)
    with store.reading() as tx:  # stored rows never change: they are read before anybody has to wait
        home = plan_of_thing(tx, subject)  # whose rows it is among
        above = () if home is None else _standing_on(tx, home, event)
        event = event if home is None else tx.floor.complete_event(home, event)
        begun, names = (None, ()) if home is None else _begun(tx, home, event)
    with store.writing() as tx:
        tx.events.lock()
        released = tx.plans.released()
        plan = None if released is None else released[0]
        if tx.events.by_id(event.id) is None:
            _refuse(tx, event, above)
            if begun is not None and not tx.book.drawn_for(names):  # nobody said so before
                tx.events.add(begun, plan=plan)
        kept = tx.events.add(event, plan=plan)
        said = kept.body or event
        asked = tuple(question_contract(*one) for one in tx.book.questions_of(kept.id, affected_things(said)))
        kept = replace(kept, before=_before(tx, plan, kept), questions=asked)
        return replace(kept, known=any(tx.floor.has_thing(one, kept.subject) for one in {plan, home} if one is not None))


def _begun(tx: Transaction, plan: str, event: AnyEvent) -> tuple[BarBegun | None, tuple[str, ...]]:
    """That its bar is begun, by what is first told as cut or spoiled of it, and the bar's names in the book in all releases."""
    if not isinstance(event, Cut | Scrapped) or event.bar is None:
        return None, ()
    stock, names = tx.floor.stock_of(plan, event.bar)
    item = stock_item_number(stock)
    if item is None:
        return None, ()
    name = hashlib.sha256(event.id.encode()).hexdigest()[:16]
    begun = BarBegun(
        id=f"begun:{name}",
        kind="bar_begun",
        at=event.at,
        device=event.device,
        actor=event.actor,
        release=plan,
        bar=event.bar,
        bar_digest=event.bar_digest,
        item=item,
    )
    return begun, names


def list_events(after: int, limit: int, *, store: Store) -> EventList:
    """Return events in the order in which they were received, after a number: none that comes later is ever before it."""
    with store.reading() as tx:
        found = tx.events.since(after, limit + 1)
    last = found[:limit][-1].seq if found else after
    return EventList(events=found[:limit], cursor=last, more=len(found) > limit)


def list_questions(after: int, limit: int, *, waiting: bool, store: Store) -> QuestionList:
    """Return questions, the oldest first: those that wait for a person, or those that do not any more."""
    with store.reading() as tx:
        found = tx.book.questions(waiting=waiting, after=after, limit=limit + 1)
    return QuestionList(questions=tuple(question_contract(*one) for one in found[:limit]), more=len(found) > limit)


def answer_question(name: str, data: Any, *, store: Store) -> QuestionRead:
    """Keep a person's answer and return the question with it. Raises NotFound, InputError, and Conflict once it is answered."""
    given = decode(AnswerGiven, data, name="answer")
    with store.reading() as tx:
        asked = tx.book.question(name)
    if asked is None:
        raise NotFound("question", name)
    thing, question = asked
    if not is_unanswered(question) and question.answered_by != given.id:
        fault = FieldFault("question", f"{name} is answered already: {question.answer or 'it fell away'}", "leave it")
        raise Conflict("answered", fault)
    event = Answered(
        id=given.id,
        kind="answered",
        at=given.at or utc_now_text(),
        device=given.device or "",
        actor=given.actor,
        question=name,
        answer=given.answer,
        thing=thing,
        name=question.about,
    )
    refuse_faulty_event(event)
    store_event(event, store=store)
    with store.reading() as tx:
        after = tx.book.question(name)
    if after is None:
        raise NotFound("question", name)
    return question_contract(*after)


def question_contract(thing: ThingKind, question: Question) -> QuestionRead:
    """Return a question as the web tells it."""
    return QuestionRead(
        id=question.id,
        kind=question.kind,
        thing=thing,
        about=question.about,
        says=SAYS[question.kind],
        events=question.events,
        at=question.at,
        open=is_unanswered(question),
        answer=question.answer,
        answered_by=question.answered_by,
    )


def read_event(data: Any) -> AnyEvent:
    """Return an event from JSON: in the form of its kind, or in the plain form. Raises InputError with every fault."""
    kind = data.get("kind") if isinstance(data, dict) else None
    said = KINDS.get(kind) if isinstance(kind, str) else None
    if said is None or ("subject" in data and kind in PLAIN_KINDS and data.keys() <= PLAIN_FIELDS):
        plain = decode(FloorEvent, data, name="event")
        _judge_plain(plain)
        return event_from_plain(plain)
    if said in (Answered, BookOpened):
        where = "POST /api/questions/{id}" if said is Answered else "nothing: the book opens itself"
        raise InputError(FieldFault("event.kind", f"{kind!r} is not told here", where))
    event: AnyEvent = decode(said, _renamed(said, data), name="event", unit="mm")
    refuse_faulty_event(event)
    return event


def _renamed(kind: type[Any], data: dict[str, Any]) -> dict[str, Any]:
    """The fields of the plain form under the names that they have in the form of a kind, where they are not given twice."""
    renamed, (subject, about) = dict(data), PLAIN.get(kind, ("item", None))
    for plain, name in (("station", "device"), ("subject", subject), ("about", about)):
        if name is not None and plain in renamed and name not in renamed:
            renamed[name] = renamed.pop(plain)
    return renamed


def refuse_faulty_event(event: AnyEvent) -> None:
    """Raise InputError with every fault of what no type can say: an instant that is none, names of any length."""
    faults = FaultCollector()
    _judge_at(event.at, faults)
    for item in fields(event):
        _judge_length(item.name, getattr(event, item.name), faults)
    if isinstance(event, Undone) and event.event == event.id:
        faults.add("event.event", "is the event itself", "the id of the event that is undone")
    faults.raise_if_any()


def _judge_plain(event: FloorEvent) -> None:
    faults = FaultCollector()
    _judge_at(event.at, faults)
    for name in ("station", "subject", "about", "reason", "actor", "release"):
        _judge_length(name, getattr(event, name), faults)
    if event.kind == "undone" and event.about in (None, event.id):
        problem = "is missing" if event.about is None else "is the event itself"
        faults.add("event.about", problem, "the id of the event that is undone")
    faults.raise_if_any()


def _judge_at(at: str, faults: FaultCollector) -> None:
    try:
        aware = datetime.fromisoformat(at).astimezone().tzinfo is not None and datetime.fromisoformat(at).tzinfo is not None
    except (ValueError, OverflowError):
        aware = False
    if not aware or len(at) > 80:
        faults.add("event.at", f"{at[:60]!r} is no instant", "ISO 8601 with offset, such as 2031-05-05T07:42:00-06:00")


def _judge_length(name: str, value: Any, faults: FaultCollector) -> None:
    if isinstance(value, str) and len(value) > NAME_MOST:
        faults.add(f"event.{name}", f"has {len(value)} characters", f"at most {NAME_MOST}")
    if isinstance(value, tuple):
        for n, one in enumerate(value):
            _judge_length(f"{name}[{n}]", one, faults)


def _before(tx: Transaction, plan: str | None, kept: EventKept) -> EventBefore | None:
    """What had been told of a piece that is told as cut or scrapped now, where both cannot be: two tablets, one piece."""
    if kept.kind not in ("cut", "scrapped") or (plan is not None and tx.floor.is_bar(plan, kept.subject)):
        return None
    last = tx.events.last_before(kept.seq, kept.subject, MADE)
    if last is None or (kept.kind == "scrapped" and last.kind != "scrapped"):
        return None
    return EventBefore(kind=last.kind, at=last.at, station=last.station)


def _standing_on(tx: Transaction, plan: str, event: AnyEvent) -> tuple[str, ...]:
    """The bundles that stand on the one whose event is undone, as its plan loads them."""
    load = tx.floor.load_of(plan, event.subject) if isinstance(event, Undone) and event.subject else None
    if load is None or not isinstance(event, Undone):
        return ()
    return tuple(one.bundle for one in tx.floor.load(plan, load).bundles if event.subject in one.stands_on)


def _refuse(tx: Transaction, event: AnyEvent, above: Sequence[str]) -> None:
    """Refuse what is no fact: to take back what others rest on, and to promise what is not there."""
    if isinstance(event, Reserved):
        _refuse_beyond(tx, event)
    if not isinstance(event, Undone):
        return
    _refuse_from_under(tx, event, above)
    undone = tx.events.by_id(event.event)
    if undone is None or undone.body is None or not undone.stands:
        return
    resting = dependent_events(undone.body, {thing: tx.book.events_of_thing(thing) for thing in affected_things(undone.body)})
    if resting:
        names = ", ".join(f"{one.kind} {event_subject(one)} ({one.id})" for one in resting[:10])
        fault = FieldFault("event.event", f"{event.event} is what {names} rests on", "undo that first")
        raise Conflict("rests", fault)


def _refuse_beyond(tx: Transaction, event: Reserved) -> None:
    item = tx.book.state("item", str(event.item))
    if not isinstance(item, ItemState):
        raise NotFound("stock item", str(event.item))
    if event.count > item.free:
        problem = f"{event.count} of item {event.item} are wanted, {max(0, item.free)} are there and free"
        raise Conflict("reserved", FieldFault("count", problem, f"at most {max(0, item.free)}, and buy the rest"))


def _refuse_from_under(tx: Transaction, event: Undone, above: Sequence[str]) -> None:
    if not above or event.subject is None:
        return
    loaded = tx.events.last_events_in_force([event.subject, *above], ("loaded",))
    here = loaded.get((event.subject, "loaded"))
    on = [name for name in above if (name, "loaded") in loaded]
    if here is not None and here.id == event.event and on:
        names = ", ".join(on)
        problem = f"{event.subject} was put on, for {names} stands on it and is on"
        raise Conflict("rests", FieldFault("event.about", problem, f"take {names} off first"))
