"""Any history leaves the floor in the state that its events make, and the ledger balanced to the nanometre.

Each step tells something, late or twice as it may be, or undoes what was told. After each step the state that is kept is
held against the state that the events alone make, and the stock against a plain count of what was told of it.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from service.errors import Conflict
from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from service.usecases.ask.events import store_event_data
from solver.book.balance import ledger_discrepancies
from solver.domain.book import BundleState, LoadState, PieceState

PIECES, BUNDLES, LOADS, BARS = ("a/P1", "a/P2", "b/P1"), ("a/B01", "b/B01"), ("a/L01", "a/L02"), ("w#1", "w#2")
MATERIAL = "W6|birch|white"
pieces, bundles, loads, bars = (st.sampled_from(names) for names in (PIECES, BUNDLES, LOADS, BARS))
minutes = st.integers(0, 59)
devices = st.sampled_from(("saw-1", "saw-2", "dock"))
makings = st.none() | st.integers(1, 4)
counts = st.integers(1, 5)
few = st.integers(1, 6)


class Book(RuleBasedStateMachine):
    """A store, and all that was told to it."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.store = SqlStore(f"sqlite:///{Path(self.folder.name) / 'book.db'}")
        upgrade_store(self.store.engine)
        self.told: list[dict[str, Any]] = []
        self.counters = Counter[str]()

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    def tell(self, kind: str, minute: int = 0, device: str = "saw-1", *, counted: bool = False, **said: Any) -> bool:
        event: dict[str, Any] = {
            "id": f"e{len(self.told)}",
            "kind": kind,
            "at": f"2031-05-05T07:{minute:02}:00-06:00",
            "device": device,
        }
        event |= {name: value for name, value in said.items() if value is not None}
        if counted:
            self.counters[device] += 1
            event["counter"] = self.counters[device]
        try:
            store_event_data(event, store=self.store)
        except Conflict:  # a promise beyond what is there, an undo of what others rest on: nothing was kept
            with self.store.reading() as tx:
                assert tx.events.by_id(event["id"]) is None
            return False
        self.told.append(event)
        return True

    @initialize()
    def stock_comes(self) -> None:
        self.tell("received", material=MATERIAL, length="24'", count=4)

    @rule(piece=pieces, minute=minutes, device=devices, making=makings, bar=st.none() | bars, counted=st.booleans())
    def cut(self, **said: Any) -> None:
        self.tell("cut", **said)

    @rule(piece=pieces, minute=minutes, device=devices, making=makings, bar=st.none() | bars)
    def scrapped(self, **said: Any) -> None:
        self.tell("scrapped", **said)

    @rule(piece=pieces, bundle=bundles, minute=minutes, making=makings)
    def laid(self, **said: Any) -> None:
        self.tell("laid", **said)

    @rule(kind=st.sampled_from(("bundle_closed", "bundle_opened")), bundle=bundles, minute=minutes)
    def bundled(self, **said: Any) -> None:
        self.tell(**said)

    @rule(kind=st.sampled_from(("on", "off")), bundle=bundles, load=loads, minute=minutes)
    def loaded(self, **said: Any) -> None:
        self.tell(**said)

    @rule(kind=st.sampled_from(("damaged", "not_here")), bundle=bundles, piece=st.none() | pieces, minute=minutes)
    def hurt(self, **said: Any) -> None:
        self.tell(**said)

    @rule(load=loads, without=st.lists(bundles, max_size=1), minute=minutes)
    def left(self, **said: Any) -> None:
        self.tell("left", **said)

    @rule(
        kind=st.sampled_from(("bar_begun", "bar_set_aside", "bar_not_in_rack")), bar=bars, item=st.none() | few, minute=minutes
    )
    def bar(self, kind: str, item: int | None, **said: Any) -> None:
        self.tell(kind, item=self.known(item), **said)

    @rule(bar=bars, start=st.integers(0, 9), length=st.integers(1, 9), minute=minutes)
    def flaw(self, bar: str, start: int, length: int, minute: int) -> None:
        where: dict[str, Any] = {"from": start, "to": start + length}
        self.tell("flaw", minute, bar=bar, **where)

    @rule(bar=bars, length=st.integers(1, 3000), minute=minutes, keep=st.booleans())
    def drop(self, bar: str, length: int, minute: int, keep: bool) -> None:
        kind = "drop_put_away" if keep else "drop_binned"
        more: dict[str, Any] = {"length": length, "material": MATERIAL} if keep else {}
        self.tell(kind, minute, bar=bar, **more)

    @rule(count=counts, length=st.sampled_from((2400, 7315.2)), minute=minutes)
    def received(self, **said: Any) -> None:
        self.tell("received", material=MATERIAL, **said)

    @rule(kind=st.sampled_from(("received", "drawn", "returned", "stock_scrapped")), item=few, count=counts, minute=minutes,
          release=st.sampled_from((None, "p1", "p2")))  # fmt: skip
    def moved(self, kind: str, item: int, **said: Any) -> None:
        if self.known(item):
            self.tell(kind, item=item, **said)

    @rule(item=few, count=st.integers(0, 9), minute=minutes)
    def counted(self, item: int, **said: Any) -> None:
        if self.known(item):
            self.tell("counted", item=item, **said)

    @rule(
        kind=st.sampled_from(("reserved", "freed")),
        item=few,
        count=counts,
        holder=st.sampled_from(("p1", "p2")),
        minute=minutes,
    )
    def promised(self, kind: str, item: int, holder: str, **said: Any) -> None:
        if self.known(item):
            held: dict[str, Any] = {"for": holder, **said}
            self.tell(kind, item=item, **held)

    @rule(at=st.integers(0, 200))
    def undone(self, at: int) -> None:
        if self.told:
            self.tell("undone", event=self.told[at % len(self.told)]["id"])

    @rule(at=st.integers(0, 200))
    def sent_again(self, at: int) -> None:
        if self.told:
            before = self.kept()
            assert not store_event_data(self.told[at % len(self.told)], store=self.store).new
            assert self.kept() == before

    def known(self, item: int | None) -> int | None:
        with self.store.reading() as tx:
            return item if item is not None and tx.book.state("item", str(item)) is not None else None

    def kept(self) -> int:
        with self.store.reading() as tx:
            return len(tx.events.since(0, 10_000))

    @invariant()
    def what_is_kept_is_what_the_events_make(self) -> None:
        with self.store.reading() as tx:
            assert tx.book.differences() == ()

    @invariant()
    def all_that_was_told_is_kept_in_order(self) -> None:
        with self.store.reading() as tx:
            assert [one.id for one in tx.events.since(0, 10_000)] == [one["id"] for one in self.told]

    @invariant()
    def no_promise_exceeds_what_is_there_and_the_ledger_balances(self) -> None:
        with self.store.reading() as tx:
            items = tx.book.stock(gone=True)
            events = [one for one in tx.events.since(0, 10_000) if one.stands and one.body is not None]
        assert all(item.reserved <= max(0, item.count) for item in items)
        assert ledger_discrepancies(items, [one.body for one in events if one.body is not None]) == ()

    @invariant()
    def a_piece_is_gone_only_with_a_truck_that_left(self) -> None:
        with self.store.reading() as tx:
            now, states = tx.book.now("piece", PIECES), tx.book.states("piece", PIECES)
            lying, trucks = tx.book.states("bundle", BUNDLES), tx.book.states("load", LOADS)
        for name, where in now.items():
            piece = states[name]
            assert isinstance(piece, PieceState)
            bundle = lying.get(piece.bundle or "")
            truck = trucks.get(bundle.load or "") if isinstance(bundle, BundleState) else None
            gone = False
            if isinstance(bundle, BundleState) and isinstance(truck, LoadState) and bundle.state == "on":
                gone = truck.state == "left" and bundle.name not in truck.without and piece.state != "wanted"
            assert (where == "left") == gone, name
            assert 1 <= piece.making <= piece.highest


def run(examples: int, steps: int) -> None:
    run_state_machine_as_test(
        Book,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )


def test_a_few_histories_leave_the_state_that_their_events_make() -> None:
    run(6, 25)


def test_ten_thousand_steps_leave_the_state_that_their_events_make() -> None:
    run(200, 50)
