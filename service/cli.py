"""The command line: each stage alone, the whole plan, the check, the demo and the service."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from service.catalog import read_bytes, read_plant
from service.settings import LABEL_DPIS, LABEL_SIZES
from solver.codec import encode, read_json
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError, NoPlan
from solver.search import Search

app = typer.Typer(
    add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, help=__doc__, rich_markup_mode=None
)

JOB_LIMIT_BYTES = 256_000_000  # a job of a million pieces; an order's own limit is far lower
ORDER_LIMIT_BYTES = 4_000_000
PROMISE_S = 2.5
PlantFile = Annotated[Path | None, typer.Option("--plant", help="plant catalog, TOML or JSON; the demo plant if absent")]
PreviousFile = Annotated[
    Path | None,
    typer.Option(
        "--previous", help="an earlier takeoff or plan of the order (.jsonl: one a line): what is made alike keeps its mark"
    ),
]
RackSlots = Annotated[
    int | None,
    typer.Option("--rack-slots", min=0, max=10_000, help="slots of the rack beside the saw; the catalog's if absent"),
]
JobFile = Annotated[str, typer.Argument(metavar="FILE", help="JSON, JSON Lines (.jsonl) or - for standard input")]


def _print(data: Any) -> None:
    json.dump(data, sys.stdout, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")
    sys.stdout.flush()


def _say(text: str) -> None:
    sys.stderr.write(text + "\n")


def _leave(code: int, faults: tuple[FieldFault, ...] = ()) -> NoReturn:
    for fault in faults:
        _say(str(fault))
    raise typer.Exit(code)


def _read(name: str) -> bytes:
    return sys.stdin.buffer.read() if name == "-" else read_bytes(Path(name), "document")


def _lines(raw: bytes) -> Iterator[bytes]:
    return (line for line in raw.split(b"\n") if line.strip())


def _plant(path: Path | None) -> Plant:
    try:
        return read_plant(path)
    except InputError as error:
        _leave(2, error.faults)


def _previous(path: Path | None) -> tuple[Takeoff, ...]:
    """The takeoffs of an earlier result; leaves with its faults where it is none."""
    from service.usecases.make.previous import earlier_takeoffs

    if path is None:
        return ()
    try:
        raw = read_bytes(path, "previous")
        lines = list(_lines(raw)) if path.suffix == ".jsonl" else [raw]
        held = [earlier_takeoffs(read_json(line, name="previous", limit_bytes=JOB_LIMIT_BYTES)) for line in lines]
    except InputError as error:
        _leave(2, error.faults)
    return tuple(takeoff for found in held for takeoff in found)


def _run(stage: str, name: str, plant_file: Path | None, previous_file: Path | None = None) -> None:
    from service.usecases.make.stages import REFUSED, Answer, answer

    plant = _plant(plant_file)
    previous = _previous(previous_file)
    limit = ORDER_LIMIT_BYTES if stage == "takeoff" else JOB_LIMIT_BYTES

    def one(raw: bytes) -> Answer:
        try:
            data = read_json(raw, name="document", limit_bytes=limit)
        except InputError as error:
            return Answer(code=REFUSED, result=None, faults=error.faults)
        return answer(stage, data, plant=plant, previous=previous)

    try:
        raw = _read(name)
    except InputError as error:
        _leave(2, error.faults)
    if not name.endswith(".jsonl"):
        made = one(raw)
        if made.result is not None:
            _print(made.result)
        _leave(made.code, made.faults)
    worst = 0
    for line in _lines(raw):
        made = one(line)
        _print(made.line())
        worst = max(worst, made.code)
    _leave(worst)


@app.command()
def takeoff(file: JobFile, plant: PlantFile = None, previous: PreviousFile = None) -> None:
    """Take an order off: print its pieces, anchors and hardware."""
    _run("takeoff", file, plant, previous)


@app.command()
def nest(file: JobFile, plant: PlantFile = None) -> None:
    """Nest pieces on bars: print the cut plan and its bound."""
    _run("nest", file, plant)


@app.command()
def sequence(file: JobFile, plant: PlantFile = None) -> None:
    """Order bars so that few bundles are open at one time."""
    _run("sequence", file, plant)


@app.command()
def slit(file: JobFile, plant: PlantFile = None) -> None:
    """Lay strips across a coil: least steel, then fewest set-ups."""
    _run("slit", file, plant)


@app.command()
def schedule(file: JobFile, plant: PlantFile = None) -> None:
    """Give each operation a machine and a time."""
    _run("schedule", file, plant)


@app.command()
def promise(
    file: JobFile,
    order: Annotated[Path | None, typer.Option("--order", help="an order document: FILE is then a plan.json")] = None,
    by: Annotated[str | None, typer.Option("--by", help="the date wanted, ISO 8601: tells what would have to give")] = None,
    plant: PlantFile = None,
) -> None:
    """Say when a new order could ship beside a released timetable, and what an earlier date would cost."""
    if order is None:
        _run("promise", file, plant)
    from service.usecases.make.promising import promise_beside
    from service.usecases.make.stages import clock

    catalog, search = _plant(plant), Search(left_s=clock(PROMISE_S))
    try:
        data = read_json(_read(file), name="plan", limit_bytes=JOB_LIMIT_BYTES)
        document = read_json(read_bytes(Path(str(order)), "order"), name="order", limit_bytes=ORDER_LIMIT_BYTES)
        wanted = None if by is None else _instant(by, "--by")
        _print(encode(promise_beside(data, document, catalog, search, by=wanted)))
    except InputError as error:
        _leave(2, error.faults)
    except NoPlan as error:
        _leave(3, error.faults)


@app.command()
def replan(file: JobFile, plant: PlantFile = None) -> None:
    """Go on after a breakdown, a rush, a remake or late material: calmly, and on time where that differs."""
    _run("replan", file, plant)


@app.command()
def stack(file: JobFile, plant: PlantFile = None) -> None:
    """Stack pieces in bundles, the first to stand on top."""
    _run("stack", file, plant)


@app.command()
def load(file: JobFile, plant: PlantFile = None) -> None:
    """Set bundles on decks in reverse order of need."""
    _run("load", file, plant)


@app.command()
def check(file: JobFile, plant: PlantFile = None) -> None:
    """Prove a result again by other means: {"stage", "job", "result"}. Exit 4 with each fault if it does not hold."""
    from service.usecases.make.stages import REFUSED, UNSOUND, judge

    catalog = _plant(plant)
    try:
        raw = _read(file)
    except InputError as error:
        _leave(2, error.faults)
    lines = list(_lines(raw)) if file.endswith(".jsonl") else [raw]
    worst = 0
    for line in lines:
        try:
            report = judge(read_json(line, name="document", limit_bytes=JOB_LIMIT_BYTES), plant=catalog)
        except InputError as error:
            worst = max(worst, REFUSED)
            for fault in error.faults:
                _say(str(fault))
            continue
        for rule in report.checked:
            sys.stdout.write(f"checked: {rule}\n")
        sys.stdout.write("holds\n" if report.sound else f"does not hold: {len(report.faults)} faults\n")
        for fault in report.faults:
            _say(str(fault))
        worst = max(worst, 0 if report.sound else UNSOUND)
    _leave(worst)


@app.command()
def plan(
    orders: Annotated[list[str], typer.Argument(metavar="ORDER...", help="order documents, JSON; - for standard input")],
    out: Annotated[Path | None, typer.Option("--out", help="folder for the plan, its tables and its sheets")] = None,
    plant: PlantFile = None,
    previous: PreviousFile = None,
    start: Annotated[str | None, typer.Option("--start", help="when the plan's time starts, ISO 8601; now if absent")] = None,
    time_limit: Annotated[float, typer.Option("--time-limit", help="seconds to search")] = 20.0,
    seed: Annotated[int, typer.Option("--seed")] = 1,
    rack_slots: RackSlots = None,
    labels: Annotated[str, typer.Option("--labels", help="label stock: 4x6, A6 or roll-4x3")] = "4x6",
    dpi: Annotated[int, typer.Option("--dpi", help="the label printer's dots an inch: 203 or 300")] = 203,
    language: Annotated[str, typer.Option("--language", help="of all paper: en or es")] = "en",
) -> None:
    """Plan orders from takeoff to loaded trucks; with --out, write tables and sheets and print a summary."""
    from service.usecases.make.plan_files import checkable, plan_orders, read_orders, write_plan

    paper = _paper(labels, dpi, language)
    catalog, earlier = _with_rack(_plant(plant), rack_slots), _previous(previous)
    tell, quiet = _progress()
    try:
        documents = [(name, read_json(_read(name), name=name, limit_bytes=ORDER_LIMIT_BYTES)) for name in orders]
        buildings = read_orders(documents, catalog)
        epoch = _epoch(start)
        made = plan_orders(buildings, catalog, epoch=epoch, limit_s=time_limit, seed=seed, tell=tell, previous=earlier)
        given = [data for _, data in documents]
        if out is None:
            quiet()
            _print(checkable(made, given)["result"])
            return
        files = write_plan(made, given, catalog, out, made=_now(catalog), tell=tell, **paper)
    except InputError as error:
        quiet()
        _leave(2, error.faults)
    except NoPlan as error:
        quiet()
        _leave(3, error.faults)
    quiet()
    from service.reports.summary import summary

    sys.stdout.write(summary(made, catalog, files) + "\n")
    _leave(0 if all(proof.checked for proof in made.proofs) else 4)


def _with_rack(catalog: Plant, slots: int | None) -> Plant:
    from dataclasses import replace

    return catalog if slots is None else replace(catalog, rack_slots=slots)


def _epoch(start: str | None) -> str:
    if start is None:
        return datetime.now(UTC).replace(microsecond=0).isoformat()
    return _instant(start, "--start").isoformat()


def _instant(text: str, option: str) -> datetime:
    try:
        instant = datetime.fromisoformat(text)
    except ValueError as error:
        raise InputError(FieldFault(option, f"{text!r} is no date and time", "2031-04-28T06:00-06:00")) from error
    if instant.tzinfo is None:
        raise InputError(FieldFault(option, f"{text!r} states no offset", "2031-04-28T06:00-06:00"))
    return instant


def _paper(labels: str, dpi: int, language: str) -> dict[str, Any]:
    """The labels' stock and resolution and the language, as the printing room names them; leaves with every fault."""
    known: dict[str, tuple[object, tuple[object, ...]]] = {
        "labels": (labels, LABEL_SIZES),
        "dpi": (dpi, LABEL_DPIS),
        "language": (language, ("en", "es")),
    }
    faults = tuple(
        FieldFault(f"--{name}", f"{value!r} is not known", f"one of {', '.join(map(str, choices))}")
        for name, (value, choices) in known.items()
        if value not in choices
    )
    if faults:
        _leave(2, faults)
    return {"size": labels, "dpi": dpi, "language": language}


def _now(plant: Plant) -> str:
    from zoneinfo import ZoneInfo

    return datetime.now(ZoneInfo(plant.time_zone)).strftime("%Y-%m-%d %H:%M")


def _progress() -> tuple[Callable[[str, float], None], Callable[[], None]]:
    """Return a function that shows progress on standard error, and one that clears it away."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    shown = Progress(
        TextColumn("{task.description:<36}"), BarColumn(), TimeElapsedColumn(), console=Console(stderr=True), transient=True
    )
    task = shown.add_task("reading", total=1.0)
    shown.start()
    return (lambda text, part: shown.update(task, description=text, completed=part)), shown.stop


@app.command()
def schema(stage: Annotated[str, typer.Argument(help="a stage, or order, or plant")]) -> None:
    """Print the JSON Schema of a stage's input and result."""
    from service.usecases.make.stages import STAGES, stage_schema

    known = ("order", "plant", "takeoff", *STAGES, "plan")
    if stage not in known:
        _leave(2, (FieldFault("stage", f"{stage!r} is not known", f"one of {', '.join(known)}"),))
    _print(stage_schema(stage))


@app.command()
def serve(
    host: Annotated[str | None, typer.Option("--host", help="address; SAWBILL_HOST, else this machine only")] = None,
    port: Annotated[int | None, typer.Option("--port", help="port to listen on; SAWBILL_PORT, else 8040")] = None,
) -> None:
    """Serve the stations and make plans, until interrupted."""
    from service.settings import read_settings
    from worker.serve import serve as run

    run(read_settings(), host, port)


DEMO_START = "2031-04-28T06:00:00-06:00"  # a Monday two weeks before the demo orders are wanted
STATIONS = ("planner", "saw", "dock")


@app.command()
def demo(
    out: Annotated[Path, typer.Option("--out", help="folder for the plan, its sheets and the store")] = Path("demo-out"),
    port: Annotated[int, typer.Option("--port")] = 8040,
) -> None:
    """Plan the demo orders, then serve the stations (NO_SERVE=1: plan only)."""
    from dataclasses import replace

    from service.catalog import demo_orders
    from service.reports.summary import summary
    from service.settings import read_settings
    from service.usecases.make.plan_files import plan_orders, read_orders, write_plan
    from worker.demo import store_plan
    from worker.serve import serve as run

    catalog = _plant(None)
    documents = [(name, read_json(raw, name=name)) for name, raw in demo_orders().items()]
    given = [data for _, data in documents]
    tell, quiet = _progress()
    buildings = read_orders(documents, catalog)
    made = plan_orders(buildings, catalog, epoch=DEMO_START, limit_s=20.0, seed=1, tell=tell)
    files = write_plan(made, given, catalog, out, made=_now(catalog), tell=tell)
    quiet()
    sys.stdout.write(summary(made, catalog, files) + "\n\n")
    settings = replace(read_settings(), data_dir=str(out), port=port)
    store_plan(settings, given, made, catalog, out)
    if os.environ.get("NO_SERVE"):
        sys.stdout.write("Planned and stored; not served (NO_SERVE).\n")
        return
    for station in STATIONS:
        sys.stdout.write(f"{station:<8}  http://{settings.host}:{settings.port}/{station}\n")
    sys.stdout.flush()
    if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY") or sys.platform in ("darwin", "win32"):
        import threading
        import webbrowser

        threading.Timer(2.0, webbrowser.open, [f"http://{settings.host}:{settings.port}/planner"]).start()
    run(settings)


def main() -> None:
    """Run the command line; a closed pipe at the other end is no error of ours.

    Standard output is for results only: what a library writes there from below Python goes to standard error.
    """
    results = os.dup(1)
    os.dup2(2, 1)
    sys.stdout = os.fdopen(results, "w", encoding="utf-8")
    try:
        app()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)


if __name__ == "__main__":
    main()
