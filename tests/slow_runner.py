"""A runner whose jobs take their time, as a process of its own."""

import sys

from worker.runner import main

main(sys.argv[1:], command=[sys.executable, "-m", "tests.slow_job"])
