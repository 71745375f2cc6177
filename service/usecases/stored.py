"""A plan's parts as the store keeps them: written when the plan is made, read one by one or as the whole plan."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, TypeVar

from service.contracts.plans import PartLine, PartStage, PlanManifest
from service.ports import Transaction
from service.stored_form import from_stored_text, stored_text_digest, stored_to_public_json, to_stored_text
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.plan_parts import PARTS, iterate_plan_parts, plan_from_parts

T = TypeVar("T")
CLASSES: Mapping[str, type[Any]] = {"plant": Plant, **{kind.stage: kind.kind for kind in PARTS}}


def plan_contents(plan: Plan, plant: Plant) -> Iterator[tuple[PartStage, str, Any]]:
    """Give each part of a plan with its stage and what it is about; the catalog that it was made with is one."""
    yield "plant", plant.id, plant
    for kind, part in iterate_plan_parts(plan):
        yield kind.stage, kind.about(part), part


def written_parts(contents: Iterable[tuple[PartStage, str, Any]]) -> tuple[tuple[PartLine, ...], list[tuple[str, str]]]:
    """Return parts as lines of a manifest, and as the digests and texts that are stored; each was read back."""
    lines, bodies = [], []
    for stage, about, part in contents:
        text = to_stored_text(part)
        from_stored_text(type(part), text)
        lines.append(PartLine(stage=stage, about=about, digest=stored_text_digest(text)))
        bodies.append((lines[-1].digest, text))
    return tuple(lines), bodies


def stored_catalog(plant: Plant) -> tuple[str, str]:
    """Return a catalog's digest and the text that is stored under it: another file with the same contents has the same."""
    text = to_stored_text(plant)
    return stored_text_digest(text), text


def read_parts(tx: Transaction, plan_id: str, stage: str, kind: type[T], *, about: str | None = None) -> Iterator[T]:
    """Give the stored parts of one stage, one after the other; only those about something where that is said."""
    for line in tx.plans.parts_of(plan_id, stage):
        if about is None or line.about == about:
            yield from_stored_text(kind, tx.plans.part(plan_id, line.digest))


def part_as_public_json(tx: Transaction, plan_id: str, digest: str) -> str:
    """Return a part as JSON for whoever asks over HTTP. Raises NotFound."""
    stage, text = tx.plans.staged_part(plan_id, digest)
    return stored_to_public_json(CLASSES[stage], text)


def stored_plan(tx: Transaction, plan_id: str) -> tuple[Plan, Plant]:
    """Return a whole stored plan, proofs aside, and the catalog it was made with. Raises NotFound."""
    manifest = tx.plans.manifest(plan_id)
    parts = [part for kind in PARTS for part in read_parts(tx, plan_id, kind.stage, kind.kind)]
    return plan_from_manifest(manifest, parts), next(read_parts(tx, plan_id, "plant", Plant))


def plan_from_manifest(manifest: PlanManifest, parts: Iterable[Any], **fields: Any) -> Plan:
    """Return the plan of a manifest with some parts; `fields`: single parts that are wanting."""
    return plan_from_parts(
        parts,
        status="optimal" if manifest.status == "optimal" else "feasible",
        id=manifest.id,
        unit=manifest.unit,
        plant=manifest.plant,
        proofs=(),
        lower_bound=manifest.lower_bound,
        cost=manifest.cost,
        seconds=manifest.seconds,
        predecessor=manifest.predecessor,
        **fields,
    )
