"""A job's process with a plan that takes its time: what the runner starts in tests of sudden deaths."""

import sys

from tests.service_fakes import one_sheet, slow_plan
from worker.job_process import main

main(sys.argv[1:], pipeline=slow_plan, printer=one_sheet)
