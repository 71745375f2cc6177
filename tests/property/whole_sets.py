"""What holds of the whole plan of any set of orders that takeoff accepts: it is made, proved, and judged by code apart."""

from __future__ import annotations

from service.usecases.make.plan_files import plan_orders, read_orders
from solver.plan_check import check_plan
from tests.generators.whole_sets import order_set
from tests.plans import demo_documents, demo_plant
from tests.whole.judge import faults_of

KNOWN: dict[int, bool] = {}  # which houses takeoff accepts


def holds(seed: int) -> None:
    """Plan a seed's set and assert that nothing is refused, that all checks hold, and that the judge finds nothing."""
    mine = order_set(seed, demo_plant(), demo_documents(), KNOWN)
    buildings = read_orders(mine.orders, mine.plant)
    plan = plan_orders(buildings, mine.plant, epoch=mine.epoch, limit_s=mine.limit_s, seed=mine.seed)
    wrong = [str(fault) for fault in check_plan(buildings, mine.plant, plan).faults]
    wrong += [f"{proof.stage} {proof.about} does not hold" for proof in plan.proofs if not proof.checked]
    wrong += faults_of(plan, mine.plant)
    assert not wrong, wrong[:5]
    assert len(plan.takeoffs) == len(mine.orders)
