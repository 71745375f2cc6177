"""Published instances and models that stay outside this repository; tests that need them skip where they are absent."""

from __future__ import annotations

import gzip
import json
import os
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[1]
SHARED = Path(os.environ.get("SAWBILL_SHARED", ROOT.parent / "shared"))


def shared_path(name: str) -> Path:
    """Return the path of a shared file, or skip the test where it is absent."""
    path = SHARED / name
    if not path.exists():
        pytest.skip(f"{name} is not beside this checkout (set SAWBILL_SHARED)")
    return path


def instances(name: str) -> list[dict[str, Any]]:
    """Return the instances of a published set, e.g. "cutting/hard28", or skip."""
    with gzip.open(shared_path(f"benchmarks/{name}.jsonl.gz"), "rt", encoding="utf-8") as lines:
        return [json.loads(line) for line in lines]


def case(case_id: str) -> dict[str, Any]:
    """Return a worked case (G1 to G18, S1 to S8) with its inputs and expected values, or skip."""
    cases = json.loads(shared_path("cases.json").read_text(encoding="utf-8"))
    found: dict[str, Any] = next(item for item in cases if item["id"] == case_id)
    return found
