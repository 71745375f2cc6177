"""The book over HTTP, on SQLite and on PostgreSQL: kept once, in its order, with the state that its events make."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.catalog import read_plant
from service.errors import Conflict
from service.usecases.ask.events import store_event_data
from service.usecases.ask.stock import take_over_catalog_stock
from solver.domain.event import Cut
from tests.book import AT, Floor, fresh
from tests.servers import postgres

P1, P2, B1, L1 = "a/L1.S-01", "a/L1.S-02", "a/B01", "a/L01"
LOT: dict[str, Any] = {"material": "W6|birch|white", "length": "24'", "place": "rack 3"}
PLAN_1: dict[str, Any] = {"for": "plan-1"}


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with postgres(tmp_path_factory.mktemp("server")) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgres"])
def floor(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Floor]:
    with fresh(request.param, request, tmp_path) as url:
        made = Floor(url)
        with made.web:
            yield made
        made.prove()  # after every scenario
        made.close()


def test_an_event_is_new_once_and_known_ever_after(floor: Floor) -> None:
    event = {"id": "e1", "kind": "cut", "at": AT.format(1), "device": "saw-1", "piece": P1, "actor": "ana", "counter": 4}
    first, again = (floor.web.post("/api/events", json=event) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert again.json()["seq"] == first.json()["seq"]
    listed = floor.get("events")["events"]
    assert [(one["kind"], one["actor"], one["counter"], one["body"]["piece"]) for one in listed] == [("cut", "ana", 4, P1)]


def test_a_piece_is_followed_from_the_saw_to_the_road(floor: Floor) -> None:
    assert floor.web.get(f"/api/pieces/{P1}").status_code == 404
    seen = []
    floor.tell("cut", 1, piece=P1)
    seen.append(floor.piece(P1))
    floor.tell("laid", 2, piece=P1, bundle=B1)
    seen.append(floor.piece(P1))
    floor.tell("bundle_closed", 3, bundle=B1)
    floor.tell("on", 4, bundle=B1, load=L1)
    seen.append(floor.piece(P1))
    floor.tell("left", 5, load=L1, seal="77")
    seen.append(floor.piece(P1))
    assert seen == [(1, "cut"), (1, "laid"), (1, "on"), (1, "left")]


def test_a_truck_that_leaves_without_a_bundle_leaves_its_pieces_here(floor: Floor) -> None:
    for n, (piece, bundle) in enumerate(((P1, B1), (P2, "a/B02"))):
        floor.tell("cut", n, piece=piece)
        floor.tell("laid", n + 2, piece=piece, bundle=bundle)
        floor.tell("on", n + 4, bundle=bundle, load=L1)
    floor.tell("left", 9, load=L1, without=["a/B02"], reason="damaged")
    assert (floor.piece(P1), floor.piece(P2)) == ((1, "left"), (1, "laid"))
    floor.tell("damaged", 10, bundle="a/B02", piece=P2)
    assert floor.piece(P2) == (2, "wanted")


def test_two_devices_give_one_cut_and_a_question_that_a_person_answers(floor: Floor) -> None:
    floor.tell("cut", 1, piece=P1, device="saw-1")
    told = floor.tell("cut", 2, piece=P1, device="saw-2")
    assert [one["kind"] for one in told["questions"]] == ["cut_twice"]
    assert floor.piece(P1) == (1, "cut")
    asked = floor.get("questions")["questions"]
    assert [(one["about"], one["events"], one["open"]) for one in asked] == [(P1, ["t1", "t2"], True)]
    answer = {"id": "a1", "answer": "told twice", "actor": "ana"}
    said = floor.web.post(f"/api/questions/{asked[0]['id']}", json=answer).json()
    assert (said["open"], said["answer"]) == (False, "told twice")
    assert floor.web.post(f"/api/questions/{asked[0]['id']}", json=answer).status_code == 200  # sent twice
    assert floor.web.post(f"/api/questions/{asked[0]['id']}", json={**answer, "id": "a2"}).status_code == 409
    assert floor.get("questions")["questions"] == []
    assert len(floor.get("questions", answered=True)["questions"]) == 1
    assert floor.web.post("/api/questions/none:t9", json=answer).status_code == 404


def test_a_scrap_voids_the_label_of_its_making_and_a_third_making_follows_the_second(floor: Floor) -> None:
    """Cases L4 and L5."""
    floor.tell("scrapped", 1, piece=P1, making=1)
    floor.tell("scrapped", 2, piece=P1, making=2)
    assert floor.piece(P1) == (3, "wanted")
    labels = floor.get(f"pieces/{P1}")["labels"]
    assert [(one["making"], one["valid"]) for one in labels] == [(1, False), (2, False), (3, True)]
    assert [one["kind"] for one in floor.tell("cut", 3, piece=P1, making=1)["questions"]] == ["cut_void"]
    assert [one["kind"] for one in floor.tell("laid", 4, piece=P1, making=2, bundle=B1)["questions"]] == ["laid_void"]
    assert floor.piece(P1) == (3, "wanted")


def test_forty_cuts_of_an_hour_without_network_take_their_places(floor: Floor) -> None:
    """Case L10: another tablet told two of the same meanwhile; one piece was scrapped after it had been cut off-line."""
    pieces = [f"a/P{n:02}" for n in range(40)]
    floor.tell("scrapped", 45, piece=pieces[0], device="saw-2")
    for n in (7, 8):
        floor.tell("cut", 50, piece=pieces[n], device="saw-2")
    for n, piece in enumerate(pieces):
        floor.tell("cut", n, piece=piece, device="saw-1", counter=n)
    assert len(floor.get("events")["events"]) == 43
    assert floor.piece(pieces[0]) == (2, "wanted")
    assert [floor.piece(piece) for piece in pieces[1:]] == [(1, "cut")] * 39
    asked = floor.get("questions")["questions"]
    assert [(one["kind"], one["about"]) for one in asked] == [("cut_twice", pieces[7]), ("cut_twice", pieces[8])]


def test_what_others_rest_on_is_not_undone_and_is_named(floor: Floor) -> None:
    floor.tell("cut", 1, piece=P1)
    floor.tell("laid", 2, piece=P1, bundle=B1)
    floor.tell("on", 3, bundle=B1, load=L1)
    refused = floor.tell("undone", 4, event="t2", status=409)
    assert "t3" in refused["faults"][0]["problem"] and refused["status"] == "rests"
    floor.tell("undone", 5, event="t1", status=409)
    floor.tell("undone", 6, event="t3")
    floor.tell("undone", 7, event="t2")
    assert floor.piece(P1) == (1, "cut")
    floor.tell("undone", 8, event="t1")
    assert floor.web.get(f"/api/pieces/{P1}").status_code == 404


def test_an_undo_that_comes_before_what_it_undoes_counts_when_that_comes(floor: Floor) -> None:
    floor.tell("undone", 2, event="t2", subject=P1)
    floor.tell("cut", 1, piece=P1)
    assert floor.web.get(f"/api/pieces/{P1}").status_code == 404
    floor.tell("undone", 3, event="t1")
    assert floor.piece(P1) == (1, "cut")


def test_stock_comes_moves_and_goes_and_keeps_its_history(floor: Floor) -> None:
    made = floor.move("received", count=20, **LOT)
    number = made["item"]["item"]
    line = made["item"]
    assert (number, line["count"], line["reserved"], line["place"], line["from"]) == (1, 20, 0, "rack 3", None)
    floor.move("reserved", item=number, count=5, **PLAN_1)
    floor.move("drawn", item=number, count=2, release="plan-1")
    floor.move("returned", item=number)
    floor.move("scrapped", item=number, count=3, reason="wet")
    floor.move("moved", item=number, place="rack 9")
    found = floor.get(f"stock/{number}")
    assert (found["count"], found["reserved"], found["place"]) == (16, 3, "rack 9")
    assert [one["kind"] for one in found["movements"]] == [
        *("received", "reserved", "drawn", "returned", "stock_scrapped", "moved")
    ]
    floor.move("counted", item=number, count=0)
    assert floor.get("stock")["stock"] == []
    assert [one["item"] for one in floor.get("stock", gone=True)["stock"]] == [1]
    assert [one["kind"] for one in floor.get("questions")["questions"]] == ["reserved_short"]


def test_a_draw_that_the_book_did_not_have_is_kept_and_somebody_is_to_count(floor: Floor) -> None:
    floor.move("received", count=1, **LOT)
    told = floor.move("drawn", item=1, count=3)
    assert (told["item"]["count"], told["item"]["to_count"]) == (-2, True)
    assert [one["kind"] for one in told["event"]["questions"]] == ["to_count"]
    floor.move("counted", item=1, count=4)
    found = floor.get("stock/1")
    assert (found["count"], found["to_count"], found["found"]) == (4, False, 6)
    assert floor.get("questions")["questions"] == []


def test_what_is_no_movement_is_refused_with_every_fault(floor: Floor) -> None:
    for body, path in (({"kind": "melted"}, "kind"), ({"kind": "moved", "item": 1, "place": "x"}, "id")):
        told = floor.web.post("/api/stock/movements", json=body)
        assert (told.status_code, told.json()["faults"][0]["path"]) == (422, path)
    assert floor.move("received", status=422)["faults"][0]["path"] == "material"
    assert floor.move("moved", item=99, place="x", status=404)["status"] == "not_found"
    backwards: dict[str, Any] = {"from": 10, "to": 4}
    floor.tell("flaw", bar="b", status=422, **backwards)
    floor.tell("answered", question="x", answer="y", status=422)
    assert floor.get("events")["events"] == []


def test_a_drop_put_away_is_a_stock_item_with_a_number_of_its_own(floor: Floor) -> None:
    told = floor.tell("drop_put_away", 1, bar="b#1", length=1200, material="W6|birch|white", place="slot 4")
    assert told["body"]["item"] == 1
    found = floor.get("stock/1")
    assert (found["kind"], found["count"], found["from"], found["place"]) == ("remnant", 1, "b#1", "slot 4")
    floor.tell("undone", 2, event="t1")
    assert floor.tell("drop_put_away", 3, bar="b#1", length=900, material="W6|birch|white")["body"]["item"] == 2


def test_a_remnant_that_lies_too_long_is_offered_and_written_off_by_a_person(floor: Floor) -> None:
    for day in ("2019-01-01", "2999-01-01"):
        floor.move("received", stock="remnant", put_away=day, **LOT)
    assert [one["ageing"] for one in floor.get("stock")["stock"]] == [True, False]
    floor.move("scrapped", item=1, reason="too old")
    assert [one["item"] for one in floor.get("stock")["stock"]] == [2]


def test_the_catalogs_stock_is_taken_over_once(floor: Floor) -> None:
    plant = read_plant(None)
    with ThreadPoolExecutor(4) as pool:  # four processes that start at once
        taken = list(pool.map(lambda _: take_over_catalog_stock(plant, store=floor.store), range(4)))
    assert sorted(taken)[:3] == [0, 0, 0] and max(taken) > 0
    assert take_over_catalog_stock(plant, store=floor.store) == 0
    stock = floor.get("stock")["stock"]
    assert [one["item"] for one in stock] == list(range(1, max(taken) + 1))
    lots = [(one["material"], one["count"]) for one in stock if one["kind"] == "lot"]
    assert lots == [(one.material, one.count) for one in plant.stated_stock.bars if one.count]
    assert [one["name"] for one in stock if one["kind"] == "coil"] == [coil.id for coil in plant.stated_stock.coils]


def test_fifty_at_once_reserve_the_last_thirty_and_never_one_more(floor: Floor) -> None:
    """Case L7."""
    floor.move("received", count=30, **LOT)
    start = threading.Barrier(50)

    def reserve(n: int) -> bool:
        said = {"id": f"r{n}", "kind": "reserved", "at": AT.format(1), "item": 1, "count": 1, "for": f"plan-{n}"}
        start.wait()
        try:
            store_event_data(said, store=floor.store)
        except Conflict as refused:
            assert refused.status == "reserved"
            return False
        return True

    with ThreadPoolExecutor(50) as pool:
        given = list(pool.map(reserve, range(50)))
    assert given.count(True) == 30
    found = floor.get("stock/1")
    assert (found["count"], found["reserved"], len(found["holders"])) == (30, 30, 30)


def test_a_reader_misses_no_event_of_a_slow_transaction(floor: Floor) -> None:
    """PostgreSQL hands out numbers before it commits: one who read on past a number that came later would miss it."""
    begun, go_on, done = threading.Event(), threading.Event(), threading.Event()

    def slow() -> None:
        with floor.store.writing() as tx:
            tx.events.add(Cut(id="slow", kind="cut", at=AT.format(1), piece=P1))
            begun.set()
            assert go_on.wait(20)

    def quick() -> None:
        assert begun.wait(20)
        with floor.store.writing() as tx:
            tx.events.add(Cut(id="quick", kind="cut", at=AT.format(2), piece=P2))
        done.set()

    threads = [threading.Thread(target=work) for work in (slow, quick)]
    for thread in threads:
        thread.start()
    assert begun.wait(20)
    seen: list[str] = []
    cursor = 0

    def look() -> None:
        nonlocal cursor
        found = floor.get("events", after=cursor)
        seen.extend(one["id"] for one in found["events"])
        cursor = found["cursor"]

    done.wait(1.0)  # long enough for a writer that does not wait
    look()
    go_on.set()
    for thread in threads:
        thread.join()
    look()
    assert seen == ["slow", "quick"]


def test_the_stream_tells_each_event_from_where_it_was_left(floor: Floor) -> None:
    for n in range(3):
        floor.tell("cut", n, piece=f"a/P{n}")
    second = floor.get("events")["events"][1]["seq"]
    import anyio

    from service.api.streams import stream_events_after

    async def follow() -> list[str]:
        found = []
        async for seq, event in stream_events_after(second, store=floor.store):
            found.append(event["id"])
            if len(found) == 1:
                await anyio.to_thread.run_sync(lambda: floor.tell("cut", 9, piece="a/P9"))
            if len(found) == 2:
                assert seq > second
                return found
        return found

    assert anyio.run(follow) == ["t3", "t4"]


def test_a_row_that_was_changed_behind_the_books_back_is_found_and_mended(floor: Floor) -> None:
    floor.tell("cut", 1, piece=P1)
    with floor.store.engine.execution_options(sawbill_writes=True).begin() as connection:
        connection.execute(text("UPDATE piece_states SET state = 'left'"))
    with floor.store.reading() as tx:
        assert [(one.table, one.name) for one in tx.book.differences()] == [("piece_states", P1)]
    with floor.store.writing() as tx:
        tx.book.rebuild_tables()
