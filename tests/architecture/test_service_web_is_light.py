"""The web process loads no solver library and no pandas: not at its start, and not while it answers pages and orders."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

HEAVY = ("ortools", "highspy", "pulp", "pandas", "numpy", "scipy", "reportlab", "openpyxl")
CODE = """
import json, sys
from fastapi.testclient import TestClient
from service.app import make_app
from service.settings import Settings
from tests.service_fakes import order_document
from worker.serve import upgrade_store_to_newest

settings = Settings(data_dir=sys.argv[1])
upgrade_store_to_newest(settings)
with TestClient(make_app(settings), base_url="http://localhost") as web:
    told = [web.post("/api/orders", json=order_document()).status_code, web.post("/api/plans", json={}).status_code]
    told += [web.get(path).status_code for path in ("/", "/planner", "/saw", "/dock", "/api/openapi.json", "/metrics")]
print(json.dumps([told, sorted(name for name in sys.modules if "." not in name)]))
"""


def test_the_web_process_loads_no_solver_library(tmp_path: Path) -> None:
    root = Path(__file__).resolve().parents[2]
    told = subprocess.run([sys.executable, "-c", CODE, str(tmp_path)], cwd=root, capture_output=True, text=True, check=True)
    statuses, loaded = json.loads(told.stdout.splitlines()[-1])
    assert statuses == [201, 202, 200, 200, 200, 200, 200, 200]
    assert set(loaded) & set(HEAVY) == set()


def test_every_route_of_the_api_is_six_lines_or_less() -> None:
    """A route translates, calls one use-case, translates back."""
    import ast

    root = Path(__file__).resolve().parents[2] / "service" / "api"
    long = []
    for path in sorted(root.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                continue
            routed = any("router." in ast.unparse(one) for one in node.decorator_list)
            body = node.body[1:] if ast.get_docstring(node) else node.body
            lines = (body[-1].end_lineno or 0) - body[0].lineno + 1
            if routed and lines > 6:
                long.append(f"{path.name}: {node.name} has {lines} lines")
    assert long == []
