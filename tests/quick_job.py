"""A job's process with a plan that is there at once, without sheets: what the runner starts in quick tests."""

import sys

from tests.service_fakes import fake_plan, one_sheet
from worker.job_process import main

main(sys.argv[1:], pipeline=fake_plan, printer=one_sheet)
