"""The command line: each stage alone, the whole plan, the check, the demo and the service."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from service.catalog import read_file_bytes, read_plant
from service.languages import language_by_code as known_language
from service.languages import language_codes, language_of_environment, unknown_language_fault
from service.settings import LABEL_DPIS, LABEL_SIZES
from solver.codec import decode, encode, read_json
from solver.documents.faults import translate_fault, translate_fault_text
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import Defect, FieldFault, InputError, NoPlan
from solver.language import ENGLISH, Language
from solver.search import Search

app = typer.Typer(
    add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, help=__doc__, rich_markup_mode=None
)

_spoken: list[Language] = [ENGLISH]  # the language of this command, as the callback heard it
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


def _tell(faults: Iterable[FieldFault]) -> None:
    for fault in faults:
        _say(str(translate_fault(_spoken[0], fault)))


def _leave(code: int, faults: tuple[FieldFault, ...] = ()) -> NoReturn:
    _tell(faults)
    raise typer.Exit(code)


@app.callback()
def command_line(
    language: Annotated[
        str,
        typer.Option(
            "--language",
            help="of all that is told and printed, such as es; else as SAWBILL_LANGUAGE, LC_ALL, LC_MESSAGES, LANG say",
        ),
    ] = "",
) -> None:
    """Set the language that this command speaks."""
    _spoken[0] = language_of_environment(os.environ)
    if language:
        _spoken[0] = _known(language)


def _known(code: str) -> Language:
    """The language of a code; leaves with a fault where there is none."""
    if code not in language_codes():
        _leave(2, (unknown_language_fault("--language", code),))
    return known_language(code)


def _read(name: str) -> bytes:
    return sys.stdin.buffer.read() if name == "-" else read_file_bytes(Path(name), "document")


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
        raw = read_file_bytes(path, "previous")
        lines = list(_lines(raw)) if path.suffix == ".jsonl" else [raw]
        held = [earlier_takeoffs(read_json(line, name="previous", limit_bytes=JOB_LIMIT_BYTES)) for line in lines]
    except InputError as error:
        _leave(2, error.faults)
    return tuple(takeoff for found in held for takeoff in found)


def _run(stage: str, name: str, plant_file: Path | None, previous_file: Path | None = None) -> None:
    from service.usecases.make.stages import REFUSED, StageAnswer, answer_stage_job

    plant = _plant(plant_file)
    previous = _previous(previous_file)
    limit = ORDER_LIMIT_BYTES if stage == "takeoff" else JOB_LIMIT_BYTES

    def one(raw: bytes) -> StageAnswer:
        try:
            data = read_json(raw, name="document", limit_bytes=limit)
        except InputError as error:
            return StageAnswer(code=REFUSED, result=None, faults=error.faults)
        return answer_stage_job(stage, data, plant=plant, previous=previous)

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
def skins(file: JobFile, plant: PlantFile = None) -> None:
    """Cut panel faces to length from coils: one batch a group, least steel, few faces split."""
    _run("skins", file, plant)


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
    from service.usecases.make.stages import countdown

    catalog, search = _plant(plant), Search(left_s=countdown(PROMISE_S))
    try:
        data = read_json(_read(file), name="plan", limit_bytes=JOB_LIMIT_BYTES)
        document = read_json(read_file_bytes(Path(str(order)), "order"), name="order", limit_bytes=ORDER_LIMIT_BYTES)
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
def check(
    file: JobFile,
    plant: PlantFile = None,
    bounds: Annotated[
        bool, typer.Option("--bounds", help="prove bounds that exact arithmetic does not carry by another solver (CBC)")
    ] = False,
    time_limit: Annotated[float, typer.Option("--time-limit", min=0.0, help="seconds for --bounds, of each result")] = 60.0,
) -> None:
    """Prove a result again by other means: {"stage", "job", "result"}. Exit 4 with each fault if it does not hold.

    Of each bound it says how far exact arithmetic carries it; what was not confirmed is told, and is no fault.
    """
    from service.bound_words import bound_lines
    from service.usecases.make.stages import REFUSED, UNSOUND, check_stage_result, countdown

    catalog, language = _plant(plant), _spoken[0]
    try:
        raw = _read(file)
    except InputError as error:
        _leave(2, error.faults)
    lines = list(_lines(raw)) if file.endswith(".jsonl") else [raw]
    worst = 0
    for line in lines:
        try:
            again = Search(left_s=countdown(time_limit)) if bounds else None
            report = check_stage_result(
                read_json(line, name="document", limit_bytes=JOB_LIMIT_BYTES), plant=catalog, again=again
            )
        except InputError as error:
            worst = max(worst, REFUSED)
            _tell(error.faults)
            continue
        for rule in report.checked:
            sys.stdout.write(language.say("checked: {rule}", rule=translate_fault_text(language, rule)) + "\n")
        for told in bound_lines(report.bounds, language):
            sys.stdout.write(f"{told}\n")
        ill = language.counted(len(report.faults), "does not hold: {n} fault", "does not hold: {n} faults")
        sys.stdout.write((language.say("holds") if report.sound else ill.format(n=len(report.faults))) + "\n")
        _tell(report.faults)
        worst = max(worst, 0 if report.sound else UNSOUND)
    _leave(worst)


@app.command()
def plan(
    orders: Annotated[list[str], typer.Argument(metavar="ORDER...", help="order documents, JSON; - for standard input")],
    out: Annotated[Path | None, typer.Option("--out", help="folder for the plan, its tables and its sheets")] = None,
    plant: PlantFile = None,
    previous: PreviousFile = None,
    floor: Annotated[
        Path | None, typer.Option("--floor", help="a snapshot of the floor to go on from; absent: nothing is begun")
    ] = None,
    start: Annotated[
        str | None,
        typer.Option("--start", help="when the plan's time starts, ISO 8601; now, or the floor's instant, if absent"),
    ] = None,
    time_limit: Annotated[
        float | None, typer.Option("--time-limit", help="seconds until the plan stands; 20, one more a house beyond ten")
    ] = None,
    seed: Annotated[int, typer.Option("--seed")] = 1,
    rack_slots: RackSlots = None,
    labels: Annotated[str, typer.Option("--labels", help="label stock: 4x6, A6 or roll-4x3")] = "4x6",
    dpi: Annotated[int, typer.Option("--dpi", help="the label printer's dots an inch: 203 or 300")] = 203,
    language: Annotated[str, typer.Option("--language", help="of all paper; that of the command if absent")] = "",
) -> None:
    """Plan orders from takeoff to loaded trucks; with --out, write tables and sheets and print a summary.

    Ctrl-C ends the search and keeps the plan as it is, checked; a second one stops.
    """
    from service.terminal_search import TerminalSearch, exit_interrupted
    from service.usecases.make.plan_files import default_time_limit_s, plan_with_its_job, read_orders, write_plan
    from service.warm_up import start_compiling

    paper = _paper(labels, dpi, _known(language) if language else _spoken[0])
    start_compiling()
    catalog, earlier = _with_rack(_plant(plant), rack_slots), _previous(previous)
    try:
        documents = [(name, read_json(_read(name), name=name, limit_bytes=ORDER_LIMIT_BYTES)) for name in orders]
        buildings = read_orders(documents, catalog)
        standing = _floor(floor)
        epoch = _epoch(start or (standing.at if standing else None))
        limit_s = default_time_limit_s(len(buildings)) if time_limit is None else time_limit
        given = [data for _, data in documents]
        attended = TerminalSearch(limit_s, _spoken[0])
        with attended.shown():
            made = attended.plan(buildings, catalog, epoch=epoch, seed=seed, previous=earlier, floor=standing)
            if out is not None:
                draw = attended.watched.draw
                files = write_plan(made, given, catalog, out, floor=standing, made=_now(catalog), tell=draw, **paper)
    except InputError as error:
        _leave(2, error.faults)
    except NoPlan as error:
        _leave(3, error.faults)
    except Defect as error:
        ours = "{stage} refused what this program itself made: a fault of ours, not of the orders"
        _say(f"sawbill: {_spoken[0].say(ours, stage=error.stage)}")
        _tell(error.faults[:5])
        raise typer.Exit(1) from error
    except KeyboardInterrupt:
        exit_interrupted(_spoken[0])
    if out is None:
        _print(plan_with_its_job(made, given, standing)["result"])
        return
    from service.reports.summary import plan_summary

    sys.stdout.write(plan_summary(made, catalog, files, _spoken[0]) + "\n")
    _leave(0 if all(proof.checked for proof in made.proofs) else 4)


def _floor(file: Path | None) -> FloorSnapshot | None:
    """The snapshot of a file. Raises InputError with every fault, paths below `floor`."""
    if file is None:
        return None
    data = read_json(_read(str(file)), name="floor", limit_bytes=JOB_LIMIT_BYTES)
    return decode(FloorSnapshot, data, name="floor")


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


def _paper(labels: str, dpi: int, language: Language) -> dict[str, Any]:
    """The labels' stock and resolution and the language, as the printing room names them; leaves with every fault."""
    known: dict[str, tuple[object, tuple[object, ...]]] = {
        "labels": (labels, LABEL_SIZES),
        "dpi": (dpi, LABEL_DPIS),
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


@app.command()
def schema(stage: Annotated[str, typer.Argument(help="a stage, or order, plant or floor")]) -> None:
    """Print the JSON Schema of a stage's input and result."""
    from service.usecases.make.stages import STAGES, stage_schema

    known = ("order", "plant", "floor", "takeoff", *STAGES, "plan")
    if stage not in known:
        _leave(2, (FieldFault("stage", f"{stage!r} is not known", f"one of {', '.join(known)}"),))
    _print(stage_schema(stage))


@app.command()
def floor() -> None:
    """Print the floor as it is now, as plans go on from it: stock, and where every piece, bundle and load is."""
    from service.settings import read_settings
    from worker.floor_state import snapshot

    try:
        _print(encode(snapshot(read_settings())))
    except InputError as error:
        _leave(2, error.faults)


@app.command()
def rebuild(
    write: Annotated[bool, typer.Option("--write", help="write the state anew where it differs")] = False,
) -> None:
    """Prove the state of the floor from its events alone. Exit 4 with each row that is kept otherwise."""
    from service.settings import read_settings
    from worker.floor_state import rebuild as run

    seen, different = run(read_settings(), write=write)
    for line in different:
        _say(line)
    what = f"{len(different)} rows differ" if different else "holds"
    sys.stdout.write(f"{what}: the state of the floor after {seen} events\n")
    _leave(4 if different else 0)


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
    from service.reports.summary import plan_summary
    from service.settings import read_settings
    from service.terminal_search import TerminalSearch, exit_interrupted
    from service.usecases.make.plan_files import read_orders, write_plan
    from service.warm_up import start_compiling
    from worker.demo import put_on_floor
    from worker.serve import serve as run

    catalog = _plant(None)
    documents = [(name, read_json(raw, name=name)) for name, raw in demo_orders().items()]
    given = [data for _, data in documents]
    start_compiling()
    buildings = read_orders(documents, catalog)
    attended = TerminalSearch(20.0, _spoken[0])
    try:
        with attended.shown():
            made = attended.plan(buildings, catalog, epoch=DEMO_START, seed=1)
            paper = _paper("4x6", 203, _spoken[0])
            files = write_plan(made, given, catalog, out, made=_now(catalog), tell=attended.watched.draw, **paper)
    except KeyboardInterrupt:
        exit_interrupted(_spoken[0])
    sys.stdout.write(plan_summary(made, catalog, files, _spoken[0]) + "\n\n")
    settings = replace(read_settings(), data_dir=str(out), port=port)
    if kept := put_on_floor(settings, given, made, catalog, tuple(files.values())):
        language = _spoken[0]
        lost = language.say(
            "The floor keeps the plan it works from; this one is only in {out}. What it would have lost:", out=out
        )
        sys.stdout.write(lost + "\n")
        sys.stdout.writelines(f"  {translate_fault(language, fault)}\n" for fault in kept)
        fresh = language.say("For a fresh demo, remove the folder {out} first, or name another with --out.", out=out)
        sys.stdout.write(fresh + "\n\n")
    if os.environ.get("NO_SERVE"):
        sys.stdout.write(_spoken[0].say("Planned and stored; not served (NO_SERVE).") + "\n")
        return
    for station in STATIONS:
        sys.stdout.write(f"{station:<8}  http://{settings.host}:{settings.port}/{station}\n")
    sys.stdout.flush()
    if os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY") or sys.platform in ("darwin", "win32"):
        import threading
        import webbrowser

        threading.Timer(2.0, webbrowser.open, [f"http://{settings.host}:{settings.port}/planner"]).start()
    run(settings)


def whole_command(arguments: Sequence[str]) -> Any:
    """Return the command with all below it, its help in the language that the arguments or the system ask for."""
    from service.help_words import translate_help

    asked = next((text.partition("=")[2] for text in arguments[:1] if text.startswith("--language=")), "")
    if list(arguments[:1]) == ["--language"]:
        asked = "".join(arguments[1:2])
    command, language = typer.main.get_command(app), language_of_environment(os.environ)
    language = known_language(asked) if asked in language_codes() else language
    if language is not ENGLISH:
        translate_help(command, language)
    return command


def main() -> None:
    """Run the command line; a closed pipe at the other end is no error of ours.

    Standard output is for results only: what a library writes there from below Python goes to standard error.
    """
    results = os.dup(1)
    os.dup2(2, 1)
    sys.stdout = os.fdopen(results, "w", encoding="utf-8")
    try:
        whole_command(sys.argv[1:])()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
    except OSError as error:  # a folder that cannot be written, a port that is taken: nothing of ours, and no traceback
        _say(f"{error.filename or 'system'}: {error.strerror or error}")
        sys.exit(2)


if __name__ == "__main__":
    main()
