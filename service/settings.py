"""All that can be set, from environment variables that begin with SAWBILL_; every one has a default that works alone."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

PREFIX = "SAWBILL_"
LABEL_SIZES = ("4x6", "A6", "roll-4x3")
WAIT_MOST_S = 120  # what lies further ahead in the jobs table is taken for a clock's jump
LABEL_DPIS = (203, 300)


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """What a process needs to know to start. Secrets (passwords inside URLs) come in here and are never logged."""

    data_dir: str = "sawbill-data"
    database: str = ""  # SQLAlchemy URL; empty: SQLite in data_dir
    broker: str = ""  # redis://...; empty: the runner works straight from the jobs table
    plant: str = ""  # path of the plant catalog; empty: the demo plant
    host: str = "127.0.0.1"
    port: int = 8040
    language: str = ""  # "en" or "es"; empty: what the browser asks for
    order_bytes: int = 4_000_000  # the largest request body
    plan_seconds: int = 60  # what one plan may search, unless it asks for less
    plan_seconds_most: int = 600
    plan_orders_most: int = 200
    replan_seconds: int = 5  # what one answer to "something happened" may search
    promise_seconds: float = 1.8  # what one answer to "when could it ship?" may search
    solver_workers: int = 2
    jobs_at_once: int = 1
    lease_seconds: float = 10.0  # a job whose process is silent for this long is taken over
    deaths_most: int = 3  # after so many deaths of its process a job is given up
    retry_seconds: float = 5.0  # before a job is tried again that could not be done for no fault of its own
    resend_seconds: float = 15.0  # a waiting job not picked up for this long is sent to the broker again
    poll_seconds: float = 0.1
    web_silent_seconds: float = 30.0  # a web process that answers nothing for so long is replaced
    allowed_hosts: str = ""  # names that pages may be asked for by, with commas; addresses and this machine's own may
    log_json: bool = False
    label_size: str = "4x6"  # "4x6" (inches), "A6" or "roll-4x3"
    label_dpi: int = 203  # the label printer's resolution: 203 or 300
    print_queue: str = ""  # the spooler's queue for labels printed again; empty: the system's usual one

    def __post_init__(self) -> None:
        """Refuse what no label printer takes, and waits that are too long. Raises ValueError."""
        for name, value, known in (("LABEL_SIZE", self.label_size, LABEL_SIZES), ("LABEL_DPI", self.label_dpi, LABEL_DPIS)):
            if value not in known:
                raise ValueError(f"{PREFIX}{name} is {value!r}; one of {', '.join(map(str, known))} would be right")
        for name, seconds in (("LEASE_SECONDS", self.lease_seconds), ("RETRY_SECONDS", self.retry_seconds)):
            if not 0 <= seconds <= WAIT_MOST_S:
                raise ValueError(f"{PREFIX}{name} is {seconds:g}; 0 to {WAIT_MOST_S} would be right")

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names that pages may be asked for by, beside this machine's own."""
        return tuple(name.strip() for name in self.allowed_hosts.split(",") if name.strip())

    @property
    def database_url(self) -> str:
        """The URL of the store: as set, else SQLite in the data folder."""
        return self.database or f"sqlite:///{(Path(self.data_dir) / 'sawbill.db').absolute()}"

    def environment(self) -> dict[str, str]:
        """Return the variables that make `read_settings` give these settings again: how a child process gets them."""
        return {PREFIX + item.name.upper(): str(getattr(self, item.name)) for item in fields(self)}


def read_settings(environment: Mapping[str, str] | None = None) -> Settings:
    """Return the settings of an environment (default: this process's). Raises ValueError naming a variable it can't read."""
    found = os.environ if environment is None else environment
    usual, said = Settings(), {}
    for item in fields(Settings):
        name = PREFIX + item.name.upper()
        if name in found:
            said[item.name] = _read(name, found[name], type(getattr(usual, item.name)))
    return replace(usual, **said)


def _read(name: str, text: str, kind: type) -> Any:
    if kind is bool:
        if text.lower() in ("1", "true", "yes", "0", "false", "no", ""):
            return text.lower() in ("1", "true", "yes")
        raise ValueError(f"{name} is {text!r}; 1 or 0 would be right")
    try:
        return kind(text)
    except ValueError as error:
        raise ValueError(f"{name} is {text!r}; {'a whole number' if kind is int else 'a number'} would be right") from error
