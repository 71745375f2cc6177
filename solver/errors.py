"""What can go wrong with input, all of it at once, and what cannot be done at all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class FieldFault:
    """One fault of an input: where it is, what is wrong, and what would be right."""

    path: str
    problem: str
    fix: str

    def __str__(self) -> str:
        return f"{self.path}: {self.problem}; {self.fix}"


class InputError(ValueError):
    """All faults found in one input, not just the first."""

    def __init__(self, *faults: FieldFault) -> None:
        super().__init__(*faults)  # args == faults, so it survives pickling between processes
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class NoPlan(Exception):
    """The input is sound, but provably nothing can meet it; the faults name the pieces or rules."""

    def __init__(self, *faults: FieldFault) -> None:
        super().__init__(*faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class Defect(Exception):
    """Something of ours is wrong, not of what was given: a stage refused what the stage before it made."""

    def __init__(self, stage: str, *faults: FieldFault) -> None:
        super().__init__(stage, *faults)
        self.stage, self.faults = stage, faults

    def __str__(self) -> str:
        more = "".join(f"\n  {fault}" for fault in self.faults[:5])
        return f"{self.stage} refused what this program itself made: a fault of ours, not of the orders{more}"


@contextmanager
def as_own_defect(stage: str) -> Iterator[None]:
    """Raise what a stage finds wrong with a job that we made as our defect."""
    try:
        yield
    except InputError as error:
        raise Defect(stage, *error.faults) from error


class FaultCollector:
    """A list of faults to fill while reading, raised at once at the end."""

    def __init__(self) -> None:
        self.found: list[FieldFault] = []

    def add(self, path: str, problem: str, fix: str) -> None:
        """Note one fault."""
        self.found.append(FieldFault(path, problem, fix))

    def extend(self, faults: Iterable[FieldFault]) -> None:
        """Note several faults."""
        self.found.extend(faults)

    def raise_if_any(self) -> None:
        """Raise InputError with all the faults noted, if there are any."""
        if self.found:
            raise InputError(*self.found)

    def __bool__(self) -> bool:
        return bool(self.found)
