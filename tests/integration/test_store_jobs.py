"""The jobs table: claimed once, fenced by token, given back when an owner falls silent or dies."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
import time_machine
from sqlalchemy import update

from service.contracts.faults import Fault
from service.contracts.plans import OrderAt, PlanWanted, PromiseWanted, Wanted
from service.errors import LostLease, NotFound
from service.store.migrate import upgrade_store
from service.store.tables import jobs
from service.store.unit_of_work import SqlStore
from tests.servers import own_schema, postgres

WANTED = PlanWanted(orders=(OrderAt(id="a", revision=1),), seconds=5, seed=1, epoch="2031-05-05T06:00:00-06:00")


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


def add(store: SqlStore, job_id: str = "j1", wanted: Wanted = WANTED) -> None:
    with store.writing() as tx:
        tx.jobs.add(job_id, wanted)


def claim(store: SqlStore, token: str, job_id: str = "j1", lease_s: float = 10.0) -> bool:
    with store.writing() as tx:
        return tx.jobs.claim(job_id, token, lease_s=lease_s, deaths_most=3)


def pass_time(store: SqlStore, seconds: float) -> None:
    """Make all that the table tells of time so much older."""
    ms = int(seconds * 1000)
    older = {name: jobs.c[name] - ms for name in ("lease_ms", "sent_ms", "not_before_ms")}
    with store.engine.begin() as connection:
        connection.execute(update(jobs).values(older))


def test_a_job_reads_back_as_it_was_asked_for(store: SqlStore) -> None:
    add(store)
    with store.reading() as tx:
        job = tx.jobs.get("j1")
    assert (job.status, job.wanted, job.deaths, job.plan) == ("waiting", WANTED, 0, None)


def test_jobs_of_other_kinds_read_back_with_their_answers_and_are_not_among_the_plans(store: SqlStore) -> None:
    asked = PromiseWanted(plan="p", order=OrderAt(id="b", revision=2), seconds=3, seed=1, now_s=60, firm_until_s=90, by_s=3_600)
    add(store)
    add(store, "j2", asked)
    assert claim(store, "me", "j2")
    with store.writing() as tx:
        tx.jobs.end("j2", "me", "done", doing="done", answer='{"ships":"soon"}')
    with store.reading() as tx:
        job = tx.jobs.get("j2")
        assert [one.id for one in tx.jobs.newest(5, "plan")] == ["j1"]
        assert [one.id for one in tx.jobs.newest(5, "promise")] == ["j2"]
        assert {one.id for one in tx.jobs.newest(5, "plan", "promise")} == {"j1", "j2"}
    assert (job.wanted, job.answer, job.plan) == (asked, '{"ships":"soon"}', None)


def test_an_unknown_job_is_not_found(store: SqlStore) -> None:
    with store.reading() as tx, pytest.raises(NotFound):
        tx.jobs.get("nobody")


def test_of_many_who_claim_at_once_exactly_one_gets_the_job(store: SqlStore) -> None:
    add(store)
    won: list[str] = []
    start = threading.Barrier(8)

    def try_it(token: str) -> None:
        start.wait()
        if claim(store, token):
            won.append(token)

    threads = [threading.Thread(target=try_it, args=(f"t{n}",)) for n in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(won) == 1


def test_a_silent_owner_loses_the_job_and_can_store_nothing_more(store: SqlStore) -> None:
    add(store)
    assert claim(store, "old", lease_s=100)
    assert not claim(store, "new")
    pass_time(store, 100.5)
    assert claim(store, "new")
    with store.writing() as tx:
        assert not tx.jobs.renew("j1", "old", lease_s=10, doing="still here", fraction=0.9).held
    with pytest.raises(LostLease), store.writing() as tx:
        tx.jobs.end("j1", "old", "done", doing="done", plan="p")
    with store.reading() as tx:
        job = tx.jobs.get("j1")
    assert (job.status, job.deaths, job.plan, job.doing) == ("working", 1, None, "starting")


def test_renewing_keeps_the_job_past_its_first_lease(store: SqlStore) -> None:
    add(store)
    assert claim(store, "mine", lease_s=100)
    for _ in range(5):
        pass_time(store, 60)
        with store.writing() as tx:
            assert tx.jobs.renew("j1", "mine", lease_s=100, doing="nesting", fraction=0.5).held
    assert not claim(store, "other")


@pytest.mark.parametrize("jump_s", [11, 11 * 3600, -3600])
def test_a_jump_of_the_machines_clock_takes_no_job_from_who_works_and_holds_none_of_a_dead_one(
    store: SqlStore, jump_s: float
) -> None:
    """Issue 12, 29: three jumps of 11 s gave a plan up; a clock that went back an hour held a dead job for an hour."""
    add(store)
    with time_machine.travel("2031-05-05T06:00:00Z") as clock:
        assert claim(store, "mine", lease_s=100)
        clock.shift(jump_s)
        assert not claim(store, "other")
        pass_time(store, 101)
        assert claim(store, "other")


def test_a_lease_from_before_the_machine_was_started_anew_holds_nothing(store: SqlStore) -> None:
    """The steady clock counts from the start: after ten days of running an old lease lies ten days ahead."""
    add(store)
    assert claim(store, "before", lease_s=10)
    pass_time(store, -10 * 86_400)
    assert claim(store, "after")


def test_a_job_that_is_put_back_is_begun_again_after_its_pause_and_counts_no_death(store: SqlStore) -> None:
    """Issue 12, 27 and 29: a restart, or a moment without the store, is no fault of the plan."""
    add(store)
    for n in range(5):
        assert claim(store, f"t{n}")
        with store.writing() as tx:
            tx.jobs.release_for_retry("j1", f"t{n}", pause_s=100)
            assert tx.jobs.claimable(5) == ()
        assert not claim(store, "early")
        pass_time(store, 101)
    with store.reading() as tx:
        job = tx.jobs.get("j1")
        assert tx.jobs.claimable(5) == ("j1",)
    assert (job.status, job.deaths) == ("waiting", 0)


def test_only_the_owner_can_put_a_job_back(store: SqlStore) -> None:
    add(store)
    assert claim(store, "mine")
    with store.writing() as tx:
        tx.jobs.release_for_retry("j1", "other")
        assert tx.jobs.get("j1").status == "working"


def test_a_process_that_dies_too_often_takes_the_job_with_it_and_says_so(store: SqlStore) -> None:
    add(store)
    for n in range(3):
        assert claim(store, f"t{n}")
        with store.writing() as tx:
            tx.jobs.record_death("j1", f"t{n}", deaths_most=3)
    with store.reading() as tx:
        job = tx.jobs.get("j1")
    assert (job.status, job.deaths) == ("failed", 3)
    assert job.faults[0].problem == "its process died 3 times"
    assert not claim(store, "t4")


def test_the_death_of_a_process_that_had_ended_its_job_changes_nothing(store: SqlStore) -> None:
    add(store)
    assert claim(store, "mine")
    with store.writing() as tx:
        tx.jobs.end("j1", "mine", "done", doing="done", plan="p1")
    with store.writing() as tx:
        tx.jobs.record_death("j1", "mine", deaths_most=3)
    with store.reading() as tx:
        job = tx.jobs.get("j1")
    assert (job.status, job.deaths, job.plan) == ("done", 0, "p1")


def test_a_waiting_job_is_cancelled_at_once_and_a_working_one_is_asked_to_stop(store: SqlStore) -> None:
    add(store, "waits")
    add(store, "works")
    assert claim(store, "mine", "works")
    with store.writing() as tx:
        assert tx.jobs.request_cancel("waits").status == "cancelled"
        assert tx.jobs.request_cancel("works").status == "working"
        assert tx.jobs.renew("works", "mine", lease_s=10, doing="", fraction=0).cancel_asked
    assert not claim(store, "other", "waits")


def test_a_cancelled_job_whose_process_died_is_not_started_again(store: SqlStore) -> None:
    add(store)
    assert claim(store, "mine")
    with store.writing() as tx:
        tx.jobs.request_cancel("j1")
        tx.jobs.record_death("j1", "mine", deaths_most=3)
        assert tx.jobs.get("j1").status == "cancelled"
        assert tx.jobs.claimable(5) == ()


def test_faults_of_a_failed_job_are_kept(store: SqlStore) -> None:
    add(store)
    assert claim(store, "mine")
    fault = Fault(path="a.L1", problem="too long", fix="shorter")
    with store.writing() as tx:
        tx.jobs.end("j1", "mine", "failed", doing="refused", faults=[fault])
        assert tx.jobs.get("j1").faults == (fault,)


def test_only_jobs_that_waited_long_enough_are_sent_again_and_only_once_in_that_time(store: SqlStore) -> None:
    add(store, "old")
    pass_time(store, 200)
    add(store, "young")
    with store.writing() as tx:
        assert tx.jobs.due_for_resend(older_s=150) == ("old",)
        assert tx.jobs.due_for_resend(older_s=150) == ()


def test_a_reader_is_not_stopped_by_a_writer_and_sees_nothing_half_done(store: SqlStore) -> None:
    add(store)
    with store.writing() as tx:
        tx.jobs.request_cancel("j1")
        with store.reading() as other:
            assert other.jobs.get("j1").status == "waiting"
    with store.reading() as tx:
        assert tx.jobs.get("j1").status == "cancelled"


def test_two_writers_that_read_first_and_then_write_both_get_through(store: SqlStore) -> None:
    """The reason for BEGIN IMMEDIATE: a deferred transaction that reads, then writes, fails when another wrote between."""
    add(store)
    faults: list[BaseException] = []

    def work(n: int) -> None:
        try:
            for _ in range(20):
                with store.writing() as tx:
                    tx.jobs.get("j1")
                    tx.jobs.add(f"w{n}-{threading.get_ident()}-{_}", WANTED)
        except BaseException as error:
            faults.append(error)

    threads = [threading.Thread(target=work, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []
    with store.reading() as tx:
        assert tx.jobs.counts() == {"waiting": 81}
