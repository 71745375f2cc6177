"""What each machine does, as the web tells it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineWork:
    """What a machine has to do in a time: seconds open, at work, and setting up, and how many operations begin."""

    machine: str
    operations: int
    open_s: int
    work_s: int
    setup_s: int
    first_s: int | None  # when its first work within the time begins, in seconds from the plan's start
    last_s: int | None  # when its last work within the time ends

    @property
    def used(self) -> float:
        """The share of its open time that it works or sets up; 0 where it is closed all the time."""
        return (self.work_s + self.setup_s) / self.open_s if self.open_s else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineList:
    """All machines of a plan over one time, in seconds from the plan's start."""

    epoch: str
    from_s: int
    to_s: int
    machines: tuple[MachineWork, ...]
