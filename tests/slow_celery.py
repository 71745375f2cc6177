"""The Celery application with plans that take their time: what a worker is started on in tests of sudden deaths."""

from tests.service_fakes import one_sheet, slow_plan
from worker import wiring
from worker.app import app

wiring.pipeline = lambda: slow_plan
wiring.printer = lambda: one_sheet

__all__ = ["app"]
