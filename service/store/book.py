"""Where each thing is: tables that are written with each event, and built again from the events alone."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple, cast

from sqlalchemy import Connection, Row, Table, and_, delete, func, insert, or_, select, update

from service.store.tables import (
    bar_states,
    bundle_states,
    event_things,
    events,
    label_states,
    load_states,
    piece_states,
    questions,
    stock_items,
)
from service.stored_form import from_stored_text, to_stored_text
from solver.book.apply import state_from_events
from solver.book.event_order import RecordedEvent, ids_of_events_in_force, in_order_of_occurrence
from solver.book.things import affected_things, book_bar_name
from solver.domain.book import (
    BLANK,
    AnyState,
    BarState,
    BundleNow,
    BundleState,
    ItemState,
    LoadState,
    PieceState,
    Question,
    Thing,
    bundle_now,
    is_unanswered,
    piece_now,
)
from solver.domain.event import (
    KINDS,
    AnyEvent,
    BarBegun,
    BarNotInRack,
    BarSetAside,
    DropPutAway,
    Received,
    ThingKind,
    Undone,
)

CHUNK = 500  # names in one IN list: SQLite's older limit is 999 variables
TABLES: dict[str, Table] = {
    "piece": piece_states,
    "bar": bar_states,
    "bundle": bundle_states,
    "load": load_states,
    "label": label_states,
    "item": stock_items,
}


class Difference(NamedTuple):
    """A row that is kept otherwise than the events make it; None where there is none."""

    table: str
    name: str
    kept: str | None
    rebuilt: str | None


def event_from_row(row: Row[*tuple[Any, ...]]) -> AnyEvent:
    """Return a stored event in the form of its kind."""
    found = from_stored_text(KINDS[_form_of(row.kind, row.body)], row.body)
    return cast(AnyEvent, found)


def _form_of(kind: str, body: str) -> str:
    """A rest of a bar that was thrown away was once told as a scrap of the bar."""
    return "drop_binned" if kind == "scrapped" and '"bar":' in body and '"piece":' not in body else kind


class SqlBook:
    """The state of all things, in the transaction that keeps the events."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    # -- what readers ask

    def states(self, kind: ThingKind, names: Collection[str]) -> dict[str, AnyState]:
        """Return the states of things by name; those that nothing was told of are left out."""
        table, found = TABLES[kind], {}
        for some in _chunks(names):
            key = table.c.item if kind == "item" else table.c.name
            asked = select(key, table.c.body).where(key.in_([int(name) for name in some] if kind == "item" else some))
            for name, body in self._connection.execute(asked):
                found[str(name)] = cast(AnyState, from_stored_text(BLANK[kind], body))
        return found

    def state(self, kind: ThingKind, name: str) -> AnyState | None:
        """Return the state of a thing, or None where nothing was told of it."""
        return self.states(kind, [name]).get(name)

    def now(self, kind: ThingKind, names: Collection[str]) -> dict[str, str]:
        """Return where pieces or bundles are, seen with what carries them."""
        table, found = TABLES[kind], {}
        for some in _chunks(names):
            rows = self._connection.execute(select(table.c.name, table.c.state).where(table.c.name.in_(some)))
            found.update({row.name: row.state for row in rows})
        return found

    def drawn_for(self, bars: Collection[str]) -> bool:
        """Return whether a stock item was drawn for a bar, by any of its names in the book."""
        asked = select(bar_states.c.item).where(bar_states.c.item.is_not(None), bar_states.c.name.in_(list(bars)))
        return self._connection.execute(asked.limit(1)).first() is not None

    def piece_makings(self, pieces: Collection[str]) -> dict[str, tuple[int, str]]:
        """Return which making of a piece counts and where it is (`wanted`: not made), for those that something was told of."""
        columns, found = (piece_states.c.name, piece_states.c.making, piece_states.c.state), {}
        for some in _chunks(pieces):
            rows = self._connection.execute(select(*columns).where(piece_states.c.name.in_(some)))
            found.update({row.name: (int(row.making), str(row.state)) for row in rows})
        return found

    def makings(self, pieces: Collection[str] | None = None) -> dict[str, int]:
        """Return which time each piece is made, or is to be made, for those scrapped before; of all where none are named."""
        asked = select(piece_states.c.name, piece_states.c.making).where(piece_states.c.making > 1)
        if pieces is None:
            return {row.name: row.making for row in self._connection.execute(asked)}
        found = {}
        for some in _chunks(pieces):
            rows = self._connection.execute(asked.where(piece_states.c.name.in_(some)))
            found.update({row.name: row.making for row in rows})
        return found

    def stock(self, *, after: int = 0, limit: int | None = None, gone: bool = False) -> tuple[ItemState, ...]:
        """Return stock items by number; those that are gone only where asked for."""
        asked = select(stock_items.c.body).where(stock_items.c.item > after).order_by(stock_items.c.item)
        if not gone:
            asked = asked.where(stock_items.c.count != 0)
        rows = self._connection.execute(asked if limit is None else asked.limit(limit))
        return tuple(from_stored_text(ItemState, body) for body in rows.scalars())

    def events_of_thing(self, thing: Thing) -> tuple[RecordedEvent, ...]:
        """Return what was told of a thing, in the order in which it happened."""
        return tuple(in_order_of_occurrence(self._told([thing])[thing]))

    def questions(self, *, waiting: bool = True, after: int = 0, limit: int = 200) -> tuple[tuple[ThingKind, Question], ...]:
        """Return questions, the oldest first: those that wait for a person, or those that do not any more."""
        asked = select(questions.c.thing, questions.c.body).where(questions.c.open.is_(waiting))
        rows = self._connection.execute(asked.order_by(questions.c.at, questions.c.id).offset(after).limit(limit))
        return tuple((row.thing, from_stored_text(Question, row.body)) for row in rows)

    def question(self, name: str) -> tuple[ThingKind, Question] | None:
        """Return a question and what it was asked of, or None."""
        asked = select(questions.c.thing, questions.c.body).where(questions.c.id == name)
        row = self._connection.execute(asked).first()
        return None if row is None else (row.thing, from_stored_text(Question, row.body))

    def questions_of(self, event: str, things: Iterable[Thing]) -> tuple[tuple[ThingKind, Question], ...]:
        """Return the open questions that an event raised or takes part in."""
        found = []
        for kind, name in things:
            asked = select(questions.c.body).where(
                questions.c.thing == kind, questions.c.name == name, questions.c.open.is_(True)
            )
            for body in self._connection.execute(asked.order_by(questions.c.id)).scalars():
                question = from_stored_text(Question, body)
                if event in question.events:
                    found.append((kind, question))
        return tuple(found)

    # -- what the writer of an event asks

    def numbered(self, event: AnyEvent) -> AnyEvent:
        """Return an event with the stock item that it is of: a new number, what the bar was begun with, or what fits it."""
        if isinstance(event, Received) and event.item is None:
            return replace(event, item=self._next_item())
        if isinstance(event, DropPutAway) and event.item is None and event.length_nm is not None:
            return replace(event, item=self._next_item())
        if isinstance(event, BarBegun | BarSetAside | BarNotInRack) and event.item is None:
            return self._with_item(event)
        return event

    def _with_item(self, event: BarBegun | BarSetAside | BarNotInRack) -> AnyEvent:
        bar = self.state("bar", book_bar_name(event.bar, event.bar_digest))
        begun = isinstance(bar, BarState) and bar.item is not None
        if isinstance(event, BarSetAside):  # what was cut into is no stock length any more
            whole = isinstance(bar, BarState) and begun and not bar.pieces and not bar.flaws
            return replace(event, item=bar.item) if whole and isinstance(bar, BarState) else event
        if isinstance(event, BarBegun) and begun:
            return event
        if isinstance(event, BarNotInRack) and begun and isinstance(bar, BarState):
            return replace(event, item=bar.item)
        return replace(event, item=self._fitting(event.material, event.length_nm, event.release))

    def _fitting(self, material: str | None, length_nm: int | None, holder: str | None) -> int | None:
        """The item of a material and length that a release holds, else one with something left, the oldest first."""
        if material is None or length_nm is None:
            return None
        asked = select(stock_items.c.body).where(
            stock_items.c.material == material, stock_items.c.length_nm == length_nm, stock_items.c.count > 0
        )
        there = [
            from_stored_text(ItemState, body) for body in self._connection.execute(asked.order_by(stock_items.c.item)).scalars()
        ]
        there.sort(key=lambda one: (holder is None or not one.held_by(holder), one.free <= 0, one.item))
        return there[0].item if there else None

    def _next_item(self) -> int:
        """The next number of a stock item: one whose coming was undone keeps its row, and its number."""
        return int(self._connection.execute(select(func.coalesce(func.max(stock_items.c.item), 0))).scalar_one()) + 1

    def place(self, seq: int, event: AnyEvent, things: Collection[Thing]) -> None:
        """Write down what an event that was just kept makes of all that it tells of."""
        if things:
            rows = [{"thing": thing.kind, "name": thing.name, "seq": seq} for thing in things]
            self._connection.execute(insert(event_things), rows)
        changed = {*things, *self._stand_anew(event)}
        self._connection.execute(update(events).where(events.c.seq == seq).values(placed=True))
        self._write(self._worked_out(changed))

    def _stand_anew(self, event: AnyEvent) -> set[Thing]:
        """Decide anew which of the events that undo one another count; return the things of those that changed."""
        chain = self._chain(event)
        if len(chain) == 1 and not isinstance(event, Undone):
            return set()
        stands = ids_of_events_in_force([RecordedEvent(row.seq, event_from_row(row)) for row in chain])
        changed: set[Thing] = set()
        for row in chain:
            if row.stands != (row.id in stands):
                self._connection.execute(update(events).where(events.c.seq == row.seq).values(stands=row.id in stands))
                changed |= set(affected_things(event_from_row(row)))
        return changed

    def _chain(self, event: AnyEvent) -> list[Row[*tuple[Any, ...]]]:
        """The stored events that an event is tied to by undoing, itself with them, in the order of receipt."""
        found: dict[str, Row[*tuple[Any, ...]]] = {}
        seen, asked = {event.id}, {event.id}
        while asked:
            names, asked = list(asked), set()
            tied = or_(events.c.id.in_(names), and_(events.c.kind == "undone", events.c.about.in_(names)))
            for row in self._connection.execute(select(events).where(tied)):
                if row.id not in found:
                    found[row.id] = row
                    asked |= {row.id} if row.kind != "undone" else {row.id, row.about}
            asked -= seen
            seen |= asked
        return sorted(found.values(), key=lambda row: row.seq)

    def _told(self, things: Iterable[Thing]) -> dict[Thing, list[RecordedEvent]]:
        found: dict[Thing, list[RecordedEvent]] = {thing: [] for thing in things}
        by_kind: dict[str, list[str]] = defaultdict(list)
        for thing in found:
            by_kind[thing.kind].append(thing.name)
        for kind, names in by_kind.items():
            for some in _chunks(names):
                asked = (
                    select(event_things.c.name, events)
                    .join(events, events.c.seq == event_things.c.seq)
                    .where(event_things.c.thing == kind, event_things.c.name.in_(some))
                )
                for row in self._connection.execute(asked):
                    found[Thing(cast(ThingKind, kind), row.name)].append(
                        RecordedEvent(row.seq, event_from_row(row), row.stands)
                    )
        return found

    def _worked_out(self, things: Iterable[Thing]) -> dict[Thing, AnyState | None]:
        """The state of things from all that was told of them; None where nothing was that stands."""
        return {thing: _state(thing, told) for thing, told in self._told(things).items()}

    def _write(self, states: Mapping[Thing, AnyState | None]) -> None:
        for thing, state in states.items():
            if thing.kind not in ("piece", "bundle"):
                self._put(thing, state, None)
        loads = {thing.name for thing in states if thing.kind == "load"}
        self._write_pieces(states, self._write_bundles(states, loads))

    def _write_bundles(self, states: Mapping[Thing, AnyState | None], loads: Collection[str]) -> dict[str, BundleNow]:
        """Write the bundles that changed, and those on a load that did; return where they are now."""
        own = {thing.name: state for thing, state in states.items() if thing.kind == "bundle"}
        bundles: dict[str, AnyState | None] = dict(own)
        for some in _chunks(loads):
            asked = select(bundle_states.c.name, bundle_states.c.body).where(bundle_states.c.load.in_(some))
            for name, body in self._connection.execute(asked):
                bundles.setdefault(name, from_stored_text(BundleState, body))
        riding = {one.load for one in bundles.values() if isinstance(one, BundleState) and one.load is not None}
        carriers = self.states("load", riding)
        now: dict[str, BundleNow] = {}
        for name, state in bundles.items():
            if isinstance(state, BundleState):
                load = carriers.get(state.load) if state.load is not None else None
                now[name] = bundle_now(state, load if isinstance(load, LoadState) else None)
            self._put(Thing("bundle", name), state, now.get(name))
            now.setdefault(name, "open")
        return now

    def _write_pieces(self, states: Mapping[Thing, AnyState | None], bundles: Mapping[str, BundleNow]) -> None:
        pieces: dict[str, AnyState | None] = {thing.name: one for thing, one in states.items() if thing.kind == "piece"}
        for some in _chunks(bundles):
            asked = select(piece_states.c.name, piece_states.c.body).where(piece_states.c.bundle.in_(some))
            for name, body in self._connection.execute(asked):
                pieces.setdefault(name, from_stored_text(PieceState, body))
        lying = {one.bundle for one in pieces.values() if isinstance(one, PieceState) and one.bundle is not None}
        where = {**self.now("bundle", lying - bundles.keys()), **bundles}
        for name, state in pieces.items():
            now = None
            if isinstance(state, PieceState):
                now = piece_now(state, cast("BundleNow | None", where.get(state.bundle)) if state.bundle else None)
            self._put(Thing("piece", name), state, now)

    def _put(self, thing: Thing, state: AnyState | None, now: str | None) -> None:
        """Write a thing's row and its questions, in the place of those that were there."""
        table = TABLES[thing.kind]
        key = table.c.item == int(thing.name) if thing.kind == "item" else table.c.name == thing.name
        self._connection.execute(delete(table).where(key))
        self._connection.execute(delete(questions).where(questions.c.thing == thing.kind, questions.c.name == thing.name))
        if state is None:
            return
        self._connection.execute(insert(table).values(_row(state, now)))
        for question in state.questions:
            self._connection.execute(insert(questions).values(_question_row(thing.kind, question)))

    # -- all of it from the events alone

    def rebuilt(self) -> dict[str, dict[str, dict[str, Any]]]:
        """Return the rows of all tables, by table and name, as the events alone make them."""
        told = [
            RecordedEvent(row.seq, event_from_row(row))
            for row in self._connection.execute(select(events).order_by(events.c.seq))
        ]
        stands = ids_of_events_in_force(told)
        by_thing: dict[Thing, list[RecordedEvent]] = defaultdict(list)
        for seq, event, _ in told:
            for thing in affected_things(event):
                by_thing[thing].append(RecordedEvent(seq, event, event.id in stands))
        states = {thing: state for thing, some in by_thing.items() if (state := _state(thing, some)) is not None}
        bundles: dict[str, BundleNow] = {}
        for thing, state in states.items():
            if isinstance(state, BundleState):
                load = states.get(Thing("load", state.load)) if state.load is not None else None
                bundles[thing.name] = bundle_now(state, load if isinstance(load, LoadState) else None)
        made: dict[str, dict[str, dict[str, Any]]] = {table.name: {} for table in TABLES.values()}
        made[questions.name] = {}
        made["events"] = {one.event.id: {"stands": one.event.id in stands} for one in told}
        for thing, state in states.items():
            now: str | None = bundles.get(thing.name) if thing.kind == "bundle" else None
            if isinstance(state, PieceState):
                now = piece_now(state, bundles.get(state.bundle) if state.bundle is not None else None)
            made[TABLES[thing.kind].name][thing.name] = _row(state, now)
            for question in state.questions:
                made[questions.name][question.id] = _question_row(thing.kind, question)
        return made

    def differences(self) -> tuple[Difference, ...]:
        """Return every row that is kept otherwise than the events make it."""
        found = []
        for table, rows in self.rebuilt().items():
            kept = self._kept(table)
            for name in sorted({*rows, *kept}):
                if kept.get(name) != rows.get(name):
                    found.append(Difference(table, name, _shown(kept.get(name)), _shown(rows.get(name))))
        return tuple(found)

    def _kept(self, table: str) -> dict[str, dict[str, Any]]:
        if table == "events":
            asked = select(events.c.id, events.c.stands)
            return {row.id: {"stands": row.stands} for row in self._connection.execute(asked)}
        whole = questions if table == "questions" else next(one for one in TABLES.values() if one.name == table)
        key = "id" if table == "questions" else "item" if table == "stock_items" else "name"
        return {str(row[key]): dict(row) for row in self._connection.execute(select(whole)).mappings()}

    def rebuild_tables(self) -> None:
        """Write all tables anew from the events alone."""
        rows = self.rebuilt()
        told = rows.pop("events")
        for table in (*TABLES.values(), questions):
            self._connection.execute(delete(table))
            if rows[table.name]:
                self._connection.execute(insert(table), list(rows[table.name].values()))
        fallen = [name for name, row in told.items() if not row["stands"]]
        self._connection.execute(update(events).values(placed=True, stands=True))
        for some in _chunks(fallen):
            self._connection.execute(update(events).where(events.c.id.in_(some)).values(stands=False))
        self._connection.execute(delete(event_things))
        for row in self._connection.execute(select(events).order_by(events.c.seq)).all():
            things = affected_things(event_from_row(row))
            if things:
                values = [{"thing": thing.kind, "name": thing.name, "seq": row.seq} for thing in things]
                self._connection.execute(insert(event_things), values)

    def behind(self) -> bool:
        """Return whether events are stored that the tables do not have."""
        asked = select(func.count()).select_from(events).where(events.c.placed.is_(False))
        return bool(self._connection.execute(asked).scalar_one())


def _state(thing: Thing, told: Sequence[RecordedEvent]) -> AnyState | None:
    """A thing's state; None where nothing that stands was told of it, nor a number was given that is not to be given again."""
    state = state_from_events(thing, told)
    blank = BLANK[thing.kind](name=thing.name)
    return None if state == blank and thing.kind != "item" and not any(one.stands for one in told) else state


def _row(state: AnyState, now: str | None) -> dict[str, Any]:
    body = to_stored_text(state)
    if isinstance(state, ItemState):
        return {
            "item": state.item,
            "stock": state.stock,
            "material": state.material,
            "length_nm": state.length_nm,
            "count": state.count,
            "reserved": state.reserved,
            "place": state.place,
            "body": body,
        }
    row: dict[str, Any] = {"name": state.name, "state": now or state.state, "body": body}
    if isinstance(state, PieceState):
        row |= {"making": state.making, "bar": state.bar, "bundle": state.bundle}
    if isinstance(state, BarState):
        row |= {"item": state.item}
    if isinstance(state, BundleState):
        row |= {"load": state.load}
    return row


def _question_row(kind: str, question: Question) -> dict[str, Any]:
    return {
        "id": question.id,
        "kind": question.kind,
        "thing": kind,
        "name": question.about,
        "at": question.at,
        "open": is_unanswered(question),
        "body": to_stored_text(question),
    }


def _shown(row: Mapping[str, Any] | None) -> str | None:
    return None if row is None else ", ".join(f"{name} {row[name]}" for name in sorted(row))


def _chunks(names: Iterable[str]) -> Iterable[list[str]]:
    every = list(names)
    return [every[n : n + CHUNK] for n in range(0, len(every), CHUNK)]
