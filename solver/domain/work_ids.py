"""Ids of a plant's jobs and of the operations of a timetable: their text is put together and taken apart here alone."""

from __future__ import annotations

import re

_LOT = re.compile(r"lot (?P<name>.+) (?P<number>\d+)")
_LOT_LABEL = re.compile(r"lot (?P<number>\d+) (?P<name>.+)")
_SLIT = re.compile(r"slit (?P<material>.+)")
_SAW_GROUP = re.compile(r"panel-saw (?P<thickness>\d+)(?: window (?P<window>\d+))?")
_REMAKE = "remake "  # before the piece that is made again


def operation_id(job: str, index: int) -> str:
    """Return the id of a job's operation; the first has index 0."""
    return f"{job}/{index}"


def read_operation_id(name: str) -> tuple[str, int]:
    """Return the job and the index of an operation. Raises ValueError for a text that is no operation's."""
    job, _, index = name.rpartition("/")
    return job, int(index)


def lot_job(name: str, number: int) -> str:
    """Return the job that laminates a lot of bars; `name`: of the cut plan, `number`: of the lot in it, from 1."""
    return f"lot {name} {number}"


def lot_label(name: str, number: int) -> str:
    """Return what a lot is shown as where its number matters first."""
    return f"lot {number} {name}"


def read_lot_label(text: str) -> tuple[str, int] | None:
    """Return the cut plan's name and the number of a lot; None for a text that is no lot's label."""
    found = _LOT_LABEL.fullmatch(text)
    return (found["name"], int(found["number"])) if found else None


def season_job(lot: str) -> str:
    """Return the job that seasons the core of a lot."""
    return f"season {lot}"


def slit_job(material: str) -> str:
    """Return the job that slits sheet."""
    return f"slit {material}"


def trim_job(name: str, number: int) -> str:
    """Return the job that cuts bars of a profile; `name`: of the cut plan, `number`: of the run in it, from 1."""
    return f"trim {name} {number}"


def bar_job(bar: str) -> str:
    """Return the job that cuts a panel bar."""
    return f"bar {bar}"


def finish_job(bar: str) -> str:
    """Return the job that does to a panel bar's pieces what is left behind the saw."""
    return f"finish {bar}"


def bundle_job(bundle: str) -> str:
    """Return the job that builds a bundle."""
    return f"bundle {bundle}"


def load_job(load: str) -> str:
    """Return the job that loads a truck."""
    return f"load {load}"


def remake_job(piece: str, time: int = 1) -> str:
    """Return the job that makes a piece again, for the `time`-th time in the plan."""
    return f"{_REMAKE}{piece}" if time == 1 else f"{_REMAKE}{piece} {time}"


def is_remake(job: str) -> bool:
    """Whether a job makes a piece again."""
    return job.startswith(_REMAKE)


def saw_group(thickness_nm: int, window: int = 0) -> str:
    """Return what the panel saw cuts under one set-up; `window`: the due window where there are several, else 0."""
    return f"panel-saw {thickness_nm}" + (f" window {window}" if window else "")


def read_saw_group(text: str) -> tuple[int, int] | None:
    """Return the thickness in nanometres and the due window (0: there is but one) of a group; None for another text."""
    found = _SAW_GROUP.fullmatch(text)
    return (int(found["thickness"]), int(found["window"] or 0)) if found else None


def begun_with(job: str) -> str | None:
    """Return what a job begins with: the name of the cut plan whose bars it laminates, the sheet that it slits; else None."""
    if found := _LOT.fullmatch(job):
        return found["name"]
    found = _SLIT.fullmatch(job)
    return found["material"] if found else None
