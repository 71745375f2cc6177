"""The web process: `python -m worker.web [PARENT]`, settings in the environment."""

from __future__ import annotations

import sys

import uvicorn

from service.app import make_app
from service.parent import end_with_parent
from service.settings import Settings, read_settings
from worker.log import set_up_logging


def run_web(settings: Settings) -> None:
    """Serve until told to stop; open progress streams are cut after two seconds."""
    uvicorn.run(
        make_app(settings),
        host=settings.host,
        port=settings.port,
        log_level="warning",
        timeout_graceful_shutdown=2,
        server_header=False,
        date_header=True,
    )


def main(arguments: list[str]) -> None:
    """Run as a process of its own."""
    if arguments:
        end_with_parent(int(arguments[0]))
    settings = read_settings()
    set_up_logging(settings)
    run_web(settings)


if __name__ == "__main__":
    main(sys.argv[1:])
