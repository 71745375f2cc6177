"""How every process logs: one line an event, to standard error; JSON where a machine reads it."""

from __future__ import annotations

import logging
import sys

import structlog

from service.settings import Settings


def set_up_logging(settings: Settings) -> None:
    """Send structlog's lines to standard error, in the form that the settings ask for."""
    last: structlog.typing.Processor = structlog.dev.ConsoleRenderer(colors=False)
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            *([structlog.processors.dict_tracebacks, structlog.processors.JSONRenderer()] if settings.log_json else [last]),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
