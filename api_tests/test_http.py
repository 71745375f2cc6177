"""From outside, over HTTP, against the run command with the real pipeline: an order comes in, trucks go out."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any

import httpx

from api_tests.samples import small_order


def test_a_released_plan_is_on_every_list(client: httpx.Client, planned: str) -> None:
    result = client.get(f"/api/plans/{planned}").json()
    assert all(proof["checked"] for proof in result["proofs"])
    assert {proof["stage"] for proof in result["proofs"]} >= {"takeoff", "stack", "nest", "schedule", "load"}
    assert result["cost"] >= result["lower_bound"] > 0
    bars = client.get("/api/cut-queue", params={"limit": 500}).json()["bars"]
    assert len(bars) == result["counts"]["bars"]
    pieces = [cut["piece"] for bar in bars for cut in bar["cuts"]]
    assert len(pieces) == len(set(pieces)) == result["counts"]["pieces"]
    bundles = client.get("/api/bundles").json()["bundles"]
    assert sorted(piece["piece"] for bundle in bundles for piece in bundle["pieces"]) == sorted(pieces)
    loads = client.get("/api/loads").json()["loads"]
    on_trucks = [one["bundle"] for load in loads for one in load["bundles"]]
    assert sorted(on_trucks) == sorted(bundle["id"] for bundle in bundles)


def test_the_strokes_of_every_bar_lead_from_zero_to_the_end_of_each_piece(client: httpx.Client, planned: str) -> None:
    for bar in client.get("/api/cut-queue", params={"limit": 500}).json()["bars"]:
        at = 0.0
        for cut in bar["cuts"]:
            for stroke in cut.get("strokes", []):
                assert stroke["fence"] >= at - 1e-9, (bar["id"], cut["mark"])
                at = stroke["fence"]
            if cut.get("strokes"):
                last = cut["strokes"][-1]
                assert (last["fence"], last["far"]) == (cut["edge_a"][1], cut["edge_b"][1])
            assert at <= bar["length"] + 1e-9


def test_every_part_of_a_plan_is_fetched_and_is_json(client: httpx.Client, planned: str) -> None:
    for part in client.get(f"/api/plans/{planned}").json()["parts"]:
        told = client.get(f"/api/plans/{planned}/parts/{part['digest']}")
        assert told.status_code == 200
        assert isinstance(told.json(), dict)
        assert told.headers["etag"] == f'"{part["digest"]}"'


def test_sheets_and_labels_come_as_pdf(client: httpx.Client, planned: str) -> None:
    listed = client.get(f"/api/plans/{planned}/documents").json()["documents"]
    sheets = [item for item in listed if item["name"].endswith(".pdf")]
    assert len(sheets) >= 5
    for item in sheets:
        told = client.get(f"/api/plans/{planned}/documents/{item['name']}")
        assert told.headers["content-type"] == "application/pdf"
        assert told.content.startswith(b"%PDF-")
        assert len(told.content) == item["bytes"]


def test_progress_is_told_while_a_plan_is_made_and_never_goes_back(client: httpx.Client, planned: str) -> None:
    client.post("/api/orders", json=small_order("shed-2"))
    name = client.post("/api/plans", json={"orders": ["shed-2"], "seconds": 5}).json()["job"]
    states: list[Any] = []
    with client.stream("GET", f"/api/jobs/{name}/progress") as told:
        states.extend(json.loads(line.removeprefix("data: ")) for line in told.iter_lines() if line.startswith("data: "))
    assert states[-1]["status"] == "done"
    assert states[0]["status"] in ("waiting", "working")
    assert len({state["doing"] for state in states}) >= 3
    fractions = [state["fraction"] for state in states]
    assert fractions == sorted(fractions)


def test_an_answer_is_told_on_the_stream_of_its_question(client: httpx.Client, planned: str) -> None:
    client.post("/api/orders", json=small_order("shed-8"))
    asked = client.post(f"/api/plans/{planned}/promises", json={"order": "shed-8"}).headers["location"]
    told: list[dict[str, Any]] = []
    with client.stream("GET", f"{asked}/progress") as stream:
        told += [json.loads(line.removeprefix("data:")) for line in stream.iter_lines() if line.startswith("data:")]
    assert [state["fraction"] for state in told] == sorted(state["fraction"] for state in told)
    assert told[-1]["status"] == "done", told[-1]
    assert told[-1]["answer"]["not_before"] <= told[-1]["answer"]["ships"]
    assert client.get("/api/jobs/nothing/progress").status_code == 404


def test_a_plan_that_is_cancelled_ends_soon_and_leaves_the_orders(client: httpx.Client) -> None:
    client.post("/api/orders", json=small_order("shed-3"))
    name = client.post("/api/plans", json={"orders": ["shed-3"]}).json()["job"]
    client.post(f"/api/jobs/{name}/cancel")
    with client.stream("GET", f"/api/jobs/{name}/progress") as told:
        assert any('"status":"cancelled"' in line.replace(" ", "") for line in told.iter_lines())
    assert client.get("/api/orders/shed-3").status_code == 200


def test_an_order_with_many_faults_gets_all_of_them_at_once(client: httpx.Client) -> None:
    wrong = small_order("wrong-1", colour="x")
    wrong["outlines"]["main"]["corners"][1]["at"] = ["-16'", 0]
    wrong["openings"] = [
        {"id": "a", "on": "L1.S", "kind": "door", "from_left": "90'", "sill": 0, "width": 36, "height": "6' 8\""},
        {"id": "b", "on": "L1.E", "kind": "window", "from_left": float("nan"), "sill": 0, "width": -36, "height": "4'"},
    ]
    told = client.post("/api/orders", content=json.dumps(wrong).encode())
    paths = [fault["path"] for fault in told.json()["faults"]]
    assert told.status_code == 422
    assert "colour" in paths
    assert any(path.startswith("openings[1].from_left") for path in paths)
    assert any(path.startswith("openings[1].width") for path in paths)
    assert client.get("/api/orders/wrong-1").status_code == 404


def test_instants_are_aware(client: httpx.Client, planned: str) -> None:
    plan = client.get(f"/api/plans/{planned}").json()
    job = client.get(f"/api/jobs/{plan['job']}").json()
    for told in (plan["made_at"], job["asked_at"], job["ended_at"]):
        assert datetime.fromisoformat(told).tzinfo is not None
