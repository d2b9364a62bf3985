"""A search in a process of its own: where the system ends it, a plain word is said.

Solvers are large C++ libraries. Short of memory they end the whole process, some with words of
their own; the system ends the largest process when memory runs out.
"""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from collections.abc import Callable

ASKED_TO_STOP = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP) if os.name == "posix" else ()
NOT_LOADED = 127  # how the system's loader ends a process that it can't give a library
ENDED = (
    "The search was ended by the system, most often because memory ran out. Your files are whole. "
    "Close other programs and try again; a season of fewer weeks needs less."
)


def watched(work: Callable[[], object], code: int) -> None:
    """Do something that ends with ``sys.exit`` in a child; ends with ``code`` and ENDED where the child was ended.

    Stopping this process stops the child. Where processes can't be forked, the work is done here.
    """
    if not hasattr(os, "fork"):
        work()
        return
    sys.stdout.flush()
    sys.stderr.flush()
    watcher = os.getpid()
    child = os.fork()
    if child == 0:
        _end_with(watcher)
        work()
        return
    for number in ASKED_TO_STOP:  # the child stops by itself and says so
        signal.signal(number, lambda got, _frame: None if got == signal.SIGINT else os.kill(child, got))
    ended = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if ended == NOT_LOADED or (ended < 0 and -ended not in ASKED_TO_STOP):
        print(ENDED, file=sys.stderr)
        ended = code
    sys.exit(ended if ended >= 0 else 128 - ended)


def _end_with(parent: int) -> None:
    """Ask the system (Linux) to end this process when its parent ends, however that comes about."""
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGTERM)  # PR_SET_PDEATHSIG
        if os.getppid() != parent:  # it has ended already
            os._exit(1)
