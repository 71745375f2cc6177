"""The plant catalog as a file: TOML or JSON, the demo plant where none is named."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any

from solver.codec import decode, read_json
from solver.domain.plant import Plant
from solver.errors import FieldFault, InputError
from solver.printable_letters import unprintable_letter_faults

CATALOG_LIMIT_BYTES = 4_000_000


def read_plant(path: Path | None = None) -> Plant:
    """Return the plant catalog of a TOML or JSON file, or the demo plant. Raises InputError with every fault."""
    if path is None:
        return plant_from_json(tomllib.loads(files("service").joinpath("data/plant.toml").read_text(encoding="utf-8")))
    raw = read_file_bytes(path, "plant")
    if path.suffix == ".json":
        return plant_from_json(read_json(raw, name="plant"))
    if len(raw) > CATALOG_LIMIT_BYTES:
        raise InputError(FieldFault("plant", f"{len(raw) / 1e6:.1f} MB is over the limit", "a smaller catalog"))
    try:
        return plant_from_json(tomllib.loads(raw.decode("utf-8")))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(FieldFault("plant", f"not TOML ({error})"[:200], "a TOML or JSON catalog")) from error


def plant_from_json(data: Any) -> Plant:
    """Return the plant that JSON data describes. Raises InputError with every fault, paths below `plant`."""
    plant = decode(Plant, data, name="plant")
    unset = list(unprintable_letter_faults(data, "plant"))
    if unset:
        raise InputError(*unset)
    ids = [*(item.id for item in plant.families), *(item.id for item in plant.profiles)]
    twice = sorted({name for name in ids if ids.count(name) > 1})
    if twice:
        raise InputError(*(FieldFault("plant", f"{name!r} names two things", "an id for each") for name in twice))
    return plant


def demo_orders() -> dict[str, bytes]:
    """Return the demo orders' texts by file name."""
    folder = files("service").joinpath("data/orders")
    return {item.name: item.read_bytes() for item in sorted(folder.iterdir(), key=lambda item: item.name)}


def read_file_bytes(path: Path, name: str) -> bytes:
    """Return a file's bytes. Raises InputError when it cannot be read."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise InputError(FieldFault(name, f"{path} cannot be read ({error.strerror})", "the path of a file")) from error
