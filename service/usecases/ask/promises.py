"""Ask when a stored order could ship beside a plan."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from service.contracts.jobs import JobAccepted
from service.contracts.plans import OrderAt, PlanManifest, PromiseWanted
from service.contracts.promises import PromiseAsked
from service.ports import Queue, Store, Transaction
from service.settings import Settings
from service.usecases.ask.jobs import submit_job
from service.usecases.stored import read_parts
from solver.codec import decode
from solver.domain.plant import Plant
from solver.errors import FaultCollector, InputError


def ask_promise(plan_id: str, data: Any, *, store: Store, queue: Queue, settings: Settings) -> JobAccepted:
    """Ask for a promise.

    Raises NotFound, InputError with every fault of what was asked.
    """
    with store.reading() as tx:
        manifest = tx.plans.manifest(plan_id)
        wanted = _decide(data, manifest, tx, settings)
    return submit_job(wanted, store=store, queue=queue)


def _decide(data: Any, manifest: PlanManifest, tx: Transaction, settings: Settings) -> PromiseWanted:
    faults, asked = FaultCollector(), None
    try:
        asked = decode(PromiseAsked, data, name="$")
    except InputError as error:
        faults.extend(error.faults)
    told = data if isinstance(data, dict) else {}
    epoch = datetime.fromisoformat(manifest.epoch)
    now_s = max(0, int((datetime.now(UTC) - epoch).total_seconds()))
    plant = next(read_parts(tx, manifest.id, "plant", Plant))
    order = _order(told.get("order"), manifest, tx, faults)
    by = _by(told.get("by"), ZoneInfo(plant.time_zone), epoch + timedelta(seconds=now_s), faults)
    faults.raise_if_any()
    assert asked is not None and order is not None  # else there was a fault
    firm_s = plant.firm_s if asked.firm_hours is None else int(asked.firm_hours * 3600)
    return PromiseWanted(
        plan=manifest.id,
        order=order,
        seconds=settings.promise_seconds,
        seed=1,
        now_s=now_s,
        firm_until_s=now_s + firm_s,
        by_s=None if by is None else int((by - epoch).total_seconds()),
        by=None if by is None else by.isoformat(),
    )


def _order(name: Any, manifest: PlanManifest, tx: Transaction, faults: FaultCollector) -> OrderAt | None:
    """The order at its newest revision; a name that is no text is the codec's fault to tell."""
    if not isinstance(name, str) or any(fault.path == "order" for fault in faults.found):
        return None
    revision = tx.orders.newest(name)
    if revision is None:
        faults.add("order", f"no order {name[:60]!r} is stored", "the id of a stored order")
        return None
    if any(one.id == name for one in manifest.orders):
        faults.add("order", f"{name!r} is in this plan already", "an order that the plan does not hold")
    return OrderAt(id=name, revision=revision)


def _by(text: Any, zone: ZoneInfo, now: datetime, faults: FaultCollector) -> datetime | None:
    """The date wanted, in the plant's zone; a text that is no date at all is the codec's fault to tell."""
    if not isinstance(text, str) or any(fault.path == "by" for fault in faults.found):
        return None
    try:
        by = datetime.fromisoformat(text)
        by = (by.replace(tzinfo=zone) if by.tzinfo is None else by).astimezone(zone)
    except (ValueError, OverflowError) as error:
        faults.add("by", f"{text!r} is no date and time ({error})", "a date and time such as 2031-05-09T12:00")
        return None
    if by <= now:
        soonest = now.astimezone(zone).isoformat(timespec="minutes")
        faults.add("by", f"{text} is not after {soonest}, now or the plan's start", "a later date and time, or none")
    return by
