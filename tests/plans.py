"""The plan of the demo orders, made once a process, for tests that look at it or spoil it."""

from __future__ import annotations

from functools import cache
from typing import Any

from service.catalog import demo_orders, read_plant
from service.usecases.make.plan_files import plan_orders, read_orders
from solver.codec import read_json
from solver.domain.building import Building
from solver.domain.plan import Plan
from solver.domain.plant import Plant

EPOCH = "2031-04-28T06:00:00-06:00"


@cache
def demo_plant() -> Plant:
    return read_plant()


@cache
def demo_documents() -> tuple[tuple[str, Any], ...]:
    return tuple((name, read_json(raw, name=name)) for name, raw in demo_orders().items())


@cache
def demo_buildings() -> tuple[Building, ...]:
    return read_orders(demo_documents(), demo_plant())


@cache
def demo_plan() -> Plan:
    return plan_orders(demo_buildings(), demo_plant(), epoch=EPOCH, limit_s=12.0, seed=1)
