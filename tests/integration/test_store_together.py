"""What many do to the store at once ends well for each of them, on SQLite and on PostgreSQL."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from service.catalog import read_plant
from service.contracts.plans import PlanAsked
from service.queue import TableQueue
from service.settings import Settings
from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from service.usecases.ask.orders import store_order
from service.usecases.ask.plans import ask_plan
from service.usecases.ask.release import release_plan
from service.usecases.make.plan import make_plan_of
from solver.domain.event import FloorEvent, event_from_plain
from solver.search import Search
from tests.servers import own_schema, postgres
from tests.service_fakes import fake_plan, one_sheet, order_document

ROUNDS = 8
PLANT = read_plant(None)


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with postgres(tmp_path_factory.mktemp("server")) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgres"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[SqlStore]:
    with ExitStack() as stack:
        url = f"sqlite:///{tmp_path / 'jobs.db'}"
        if request.param == "postgres":
            url = stack.enter_context(own_schema(request.getfixturevalue("database")))
        made = SqlStore(url)
        upgrade_store(made.engine)
        yield made
        made.close()


def at_once(*works: Callable[[], object]) -> list[BaseException]:
    """Do all at the same time and return what went wrong."""
    start, faults = threading.Barrier(len(works)), []

    def do(work: Callable[[], object]) -> None:
        start.wait()
        try:
            work()
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=do, args=(work,)) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return faults


def asked(store: SqlStore, order: str, *, epoch: str) -> str:
    """Ask for a plan of one order, claim it and return its job."""
    want = PlanAsked(orders=(order,), epoch=epoch)
    job = ask_plan(want, plant=PLANT, store=store, queue=TableQueue(), settings=Settings()).job
    with store.writing() as tx:
        assert tx.jobs.claim(job, job, lease_s=100, deaths_most=3)
    return job


def make(store: SqlStore, job: str) -> None:
    with store.reading() as tx:
        found = tx.jobs.get(job)
    search = Search(left_s=lambda: 5.0)
    make_plan_of(found, job, PLANT, search, store=store, pipeline=fake_plan, printer=one_sheet)


def test_an_order_sent_four_times_at_once_is_kept_once_and_told_to_all(store: SqlStore) -> None:
    for n in range(ROUNDS):
        told: list[bool] = []
        document = order_document(f"o-{n}")

        def send(document: object = document, told: list[bool] = told) -> None:
            told.append(store_order(document, PLANT, store=store).new)

        assert at_once(*(send,) * 4) == []
        assert sorted(told) == [False, False, False, True]


def test_two_contents_of_one_revision_sent_at_once_keep_one_and_refuse_the_other(store: SqlStore) -> None:
    for n in range(ROUNDS):
        one, other = order_document(f"o-{n}"), order_document(f"o-{n}")
        other["levels"] = [{"id": "L1", "outline": "main", "base": 0, "top": "9'"}]
        faults = at_once(*(lambda d=d: store_order(d, PLANT, store=store) for d in (one, other)))
        assert ["stored already, with other contents" in str(fault) for fault in faults] == [True]


def test_two_plans_that_share_new_parts_and_end_together_are_both_stored(store: SqlStore) -> None:
    for n in range(ROUNDS):
        store_order(order_document(f"o-{n}"), PLANT, store=store)
        jobs = [asked(store, f"o-{n}", epoch=f"2031-05-0{k}T06:00:00-06:00") for k in (5, 6)]
        assert at_once(*(lambda job=job: make(store, job) for job in jobs)) == []
        with store.reading() as tx:
            ended = [tx.jobs.get(job) for job in jobs]
            parts = [{line.digest for line in tx.plans.manifest(str(job.plan)).parts} for job in ended]
        assert [job.status for job in ended] == ["done", "done"]
        assert parts[0] & parts[1]


def test_a_plan_released_three_times_at_once_is_released_once(store: SqlStore) -> None:
    for n in range(ROUNDS):
        store_order(order_document(f"o-{n}"), PLANT, store=store)
        job = asked(store, f"o-{n}", epoch="2031-05-05T06:00:00-06:00")
        make(store, job)
        with store.reading() as tx:
            plan = str(tx.jobs.get(job).plan)
        since: set[str] = set()
        release = [lambda plan=plan, since=since: since.add(release_plan(plan, drop=True, store=store).released_at)] * 3
        assert at_once(*release) == []
        assert len(since) == 1


def test_the_stamp_of_the_store_changes_with_each_commit(store: SqlStore) -> None:
    """And on SQLite with nothing else; PostgreSQL's is of the whole server, where others may write."""
    watching, other = SqlStore(store.engine.url.render_as_string(hide_password=False)), store
    try:
        first = watching.change_stamp()
        with other.reading() as tx:
            tx.events.since(0, 10)
        assert watching.change_stamp() == first or store.engine.dialect.name == "postgresql"
        seen = {first}
        for n in range(5):
            with other.writing() as tx:
                tx.events.add(
                    event_from_plain(FloorEvent(id=f"e{n}", kind="cut", at="2031-05-05T07:42:00Z", station="t", subject="x"))
                )
            now = watching.change_stamp()
            assert now not in seen
            seen.add(now)
        for own in (watching, other):  # what is written by the store itself is seen too
            before = own.change_stamp()
            with own.writing() as tx:
                tx.events.add(
                    event_from_plain(
                        FloorEvent(id=f"own{id(own)}", kind="cut", at="2031-05-05T07:42:00Z", station="t", subject="x")
                    )
                )
            assert own.change_stamp() != before
    finally:
        watching.close()
