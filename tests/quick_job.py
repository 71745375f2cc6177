"""A job's process with a plan that is there at once."""

import sys

from tests.service_fakes import fake_plan
from worker.one import main

main(sys.argv[1:], pipeline=fake_plan)
