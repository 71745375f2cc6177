"""What a stage finds wrong with what we made ourselves is told as a fault of ours, never as one of the order."""

from __future__ import annotations

import pickle

import pytest

from solver.errors import Defect, FieldFault, InputError, NoPlan, as_own_defect

FAULT = FieldFault("stacks[0]", "is on no bar", "pieces that the bars name")


def test_a_refusal_of_what_we_made_is_a_defect_that_names_the_stage() -> None:
    with (
        pytest.raises(Defect, match=r"the cut order refused .* a fault of ours"),
        as_own_defect("the cut order"),
    ):
        raise InputError(FAULT)


def test_what_provably_cannot_be_stays_so() -> None:
    with pytest.raises(NoPlan), as_own_defect("nesting"):
        raise NoPlan(FAULT)


def test_a_defect_goes_from_process_to_process() -> None:
    again = pickle.loads(pickle.dumps(Defect("nesting", FAULT)))
    assert (again.stage, again.faults) == ("nesting", (FAULT,))
