"""A child that ends with its parent: a killed parent must leave no process that keeps a port or a job."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import threading
import time

PR_SET_PDEATHSIG = 1
LOOK_EVERY_S = 0.5


def end_with_parent(parent: int, *, how: signal.Signals = signal.SIGKILL) -> None:
    """Make this process end when `parent` does: at once on Linux, within half a second elsewhere."""
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, how, 0, 0, 0)
    if os.getppid() != parent:  # it died before we asked to be told
        os._exit(1)
    threading.Thread(target=_watch, args=(parent,), name="watch parent", daemon=True).start()


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(LOOK_EVERY_S)
    os._exit(1)


def serve_parent(parent: int) -> None:
    """Begin a process of a pool: it ends with its parent, for whom Ctrl-C is."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent(parent)
