"""The Celery application with plans that take their time: what a worker is started on in tests of sudden deaths."""

from service.settings import Settings
from service.usecases.make.plan import Printer
from tests.service_fakes import one_sheet, slow_plan
from worker import wiring
from worker.app import app


def printer(settings: Settings) -> Printer:
    """A printer that writes one fake sheet."""
    return one_sheet


wiring.load_pipeline = lambda: slow_plan
wiring.sheet_printer = printer

__all__ = ["app"]
