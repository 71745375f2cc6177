"""`sawbill check` on bounds, from outside: what is confirmed, what rests on a search, what another solver finds."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

JOB = {
    "unit": "mm", "kerf": 0, "stock": [{"id": "S", "length": 100, "cost": 100}],
    "pieces": [{"id": "A", "length": 51, "count": 4}, {"id": "B", "length": 49, "count": 4}],
}  # fmt: skip


def sawbill(*words: str, given: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "service.cli", *words], input=given, capture_output=True, text=True, check=False, timeout=300
    )


def judged(result: dict[str, Any], *words: str, job: dict[str, Any] = JOB) -> tuple[int, str, str]:
    told = sawbill("check", "-", *words, given=json.dumps({"stage": "nest", "job": job, "result": result}))
    return told.returncode, told.stdout, told.stderr


def piece(name: str, long: int) -> dict[str, Any]:
    return {"id": name, "turn": "as_is", "edge_a": [0, long], "edge_b": [0, long]}


@pytest.fixture(scope="module")
def nested(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    file = Path(tmp_path_factory.mktemp("job")) / "job.json"
    file.write_text(json.dumps(JOB))
    made: dict[str, Any] = json.loads(sawbill("nest", str(file)).stdout)
    return made


def test_a_bound_by_lengths_is_confirmed_exactly(nested: dict[str, Any]) -> None:
    """4 pieces of 51 and 4 of 49 fill four bars of 100 to the last millimetre: 400, by hand."""
    assert nested["certificate"] == {"kind": "lengths"}
    code, out, _ = judged(nested)
    assert code == 0
    assert "bound: lower_bound 400: confirmed exactly" in out


def test_a_forged_bound_is_refuted_by_its_own_certificate(nested: dict[str, Any]) -> None:
    """One piece a bar costs 800, all rules kept; called the least, its certificate carries 400 only."""
    bars = [
        {"stock": "S", "repeat": 4, "drop": 100 - long, "pieces": [piece(name, long)]} for name, long in (("A", 51), ("B", 49))
    ]
    forged = {**nested, "status": "optimal", "cost": 800, "lower_bound": 800, "waste": 0.5, "bars": bars}
    code, out, err = judged(forged)
    assert code == 4
    assert "bound: lower_bound 800: refuted" in out
    assert err.startswith("lower_bound: 800 is claimed")
    del forged["certificate"]
    code, out, _ = judged(forged)
    assert code == 0, "the plan itself holds, and the bound states nothing that could be judged"
    assert "not confirmed" in out and "exact arithmetic carries 400" in out
    code, out, err = judged(forged, "--bounds", "--time-limit", "20")
    assert code == 4
    assert "CBC found a plan that costs 400" in err


def test_a_bound_said_to_rest_on_a_search_is_proved_by_the_other_solver(nested: dict[str, Any]) -> None:
    weaker = {**nested, "certificate": {"kind": "search"}}
    job = {**JOB, "pieces": [{"id": "A", "length": 51, "count": 3}]}
    whole = [
        {"stock": "S", "repeat": 3, "drop": 49, "pieces": [{"id": "A", "turn": "as_is", "edge_a": [0, 51], "edge_b": [0, 51]}]}
    ]
    claimed = {**weaker, "cost": 300, "lower_bound": 300, "waste": 0.49, "bars": whole}
    code, out, _ = judged(claimed, job=job)
    assert (code, "not confirmed (" in out) == (0, True)
    code, out, _ = judged(claimed, "--bounds", job=job)
    assert (code, "confirmed by another solver" in out) == (0, True)
