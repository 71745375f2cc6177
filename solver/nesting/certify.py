"""A proved bound with what it rests on: worths that nobody can beat, lengths alone, or a search beyond these."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.certificate import Argument, Certificate
from solver.nesting.bounds import CostSteps, area_bound
from solver.nesting.model import NestingModel

Shares = tuple[tuple[int, int], ...]  # by lean: of the room that a cut takes, in quarters of a nanometre


@dataclass(frozen=True, slots=True)
class CertifiedBound:
    """A bound that no plan can beat, and its certificate."""

    bound: Fraction
    certificate: Certificate


@dataclass(frozen=True, slots=True)
class CertifiedDuals:
    """Dual prices in whole numbers, of the kinds and of limited stocks, and the sizes with which they were proved."""

    duals: Sequence[int]
    stock_duals: Sequence[int]
    scale: int
    bound: Fraction
    step: int  # quarters of a nanometre
    starts: Shares = ()
    ends: Shares = ()


def certify_bound(model: NestingModel, bound: Fraction, proof: CertifiedDuals | None) -> CertifiedBound:
    """Return a bound with its certificate: the least argument that carries it, a search where none does."""
    cost_steps = CostSteps(model)
    if bound <= cost_steps.round_up(area_bound(model)):
        return CertifiedBound(bound, Certificate(kind="lengths"))
    if proof is None:
        return CertifiedBound(bound, Certificate(kind="search"))
    return CertifiedBound(bound, _written(model, proof, "worths" if bound <= cost_steps.round_up(proof.bound) else "search"))


def _written(model: NestingModel, proof: CertifiedDuals, kind: Argument) -> Certificate:
    pieces, stock = model.job.pieces, model.job.stock
    return Certificate(
        kind=kind,
        scale=proof.scale,
        worths={
            pieces[owner].id: worth
            for held, worth in zip(model.kinds, proof.duals, strict=True)
            for owner, _ in held.owners
            if worth > 0
        },
        rents={
            stock[owner].id: rent
            for held, rent in zip(model.stocks, proof.stock_duals, strict=True)
            for owner, _ in held.owners
            if rent > 0
        },
        step=proof.step,
        starts=proof.starts,
        ends=proof.ends,
    )
