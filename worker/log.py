"""How every process logs: one line an event, to standard error; JSON where a machine reads it."""

from __future__ import annotations

import logging
import sys

import structlog
from structlog.tracebacks import ExceptionDictTransformer

from service.settings import Settings


def set_up_logging(settings: Settings) -> None:
    """Send structlog's lines to standard error, in the form that the settings ask for."""
    plain = structlog.dev.ConsoleRenderer(colors=False, exception_formatter=structlog.dev.plain_traceback)
    told = structlog.processors.ExceptionRenderer(ExceptionDictTransformer(show_locals=False))  # locals may hold secrets
    machine: list[structlog.typing.Processor] = [told, structlog.processors.JSONRenderer()]
    structlog.configure(
        processors=[
            structlog.contextvars.merge_contextvars,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            *(machine if settings.log_json else [plain]),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.INFO),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )
