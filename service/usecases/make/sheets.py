"""The sheets of a plan, drawn in processes beside each other where there are many: one file each at a time."""

from __future__ import annotations

import os
import pickle
from collections.abc import Collection
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from pathlib import Path

from service.parent import serve_parent
from service.printing.labels import Dpi, LabelSize
from service.printing.sheets import Tell, share_of_work_drawn, sheet_names, write_sheets
from service.usecases.make.drawing_processes import drawing_process_count
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.stock import StockSnapshot
from solver.language import ENGLISH, Language

LONGEST_FIRST = ("labels", "saw", "bundle-tags", "bundles", "pieces", "router", "rigging")


def draw_sheets(
    plan: Plan,
    plant: Plant,
    out: Path,
    *,
    made: str,
    tell: Tell,
    language: Language = ENGLISH,
    size: LabelSize = "4x6",
    dpi: Dpi = 203,
    only: Collection[str] | None = None,
    stock: StockSnapshot | None = None,
    processes: int | None = None,
) -> dict[str, Path]:
    """Write every sheet of a plan (or those named) into a folder and return the paths by name; as `write_sheets` does.

    `processes`: how many draw beside each other; as many as there are cores where it is not said, one for a small plan.
    """
    count = processes or drawing_process_count(sum(len(takeoff.pieces) for takeoff in plan.takeoffs))
    if count < 2:
        return write_sheets(
            plan, plant, out, made=made, tell=tell, language=language, size=size, dpi=dpi, only=only, stock=stock
        )
    names = [name for name in sheet_names(plan) if only is None or name in only]
    ranks = {name: n for n, name in enumerate(LONGEST_FIRST)}
    ranked = sorted(names, key=lambda name: ranks.get(name, len(ranks)))
    out.mkdir(parents=True, exist_ok=True)
    body = pickle.dumps((plan, plant, out, made, language, size, dpi, stock))
    paths: dict[str, Path] = {}
    with ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_begin, initargs=(os.getpid(), body)) as pool:
        drawn: list[str] = []
        waiting: dict[Future[Path | None], str] = {pool.submit(_draw, name): name for name in ranked}
        try:
            for done in as_completed(waiting):
                name, path = waiting[done], done.result()
                drawn.append(name)
                if path is not None:
                    paths[name] = path
                tell(f"{name}.pdf", share_of_work_drawn(drawn, ranked))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    tell("sheets", 1.0)
    return {name: paths[name] for name in names if name in paths}


_held: tuple[Plan, Plant, Path, str, Language, LabelSize, Dpi, StockSnapshot | None] | None = (
    None  # of this process: what it draws from
)


def _begin(parent: int, body: bytes) -> None:
    global _held  # noqa: PLW0603 - a process of a pool is given its plan once
    serve_parent(parent)
    _held = pickle.loads(body)


def _draw(name: str) -> Path | None:
    assert _held is not None
    plan, plant, out, made, language, size, dpi, stock = _held
    made_of = write_sheets(
        plan,
        plant,
        out,
        made=made,
        tell=lambda _text, _part: None,
        language=language,
        size=size,
        dpi=dpi,
        only={name},
        stock=stock,
    )
    return made_of.get(name)
