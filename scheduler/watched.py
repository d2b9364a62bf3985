"""A search in a process of its own: where the system ends it, a plain word is said.

Solvers are large C++ libraries. Short of memory they end the whole process, some with words of
their own; the system ends the largest process when memory runs out.
"""

from __future__ import annotations

import ctypes
import os
import select
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress

ASKED_TO_STOP = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP) if os.name == "posix" else ()
NOT_LOADED = 127  # how the system's loader ends a process that it can't give a library
LOOKS, EVERY = 6, 10.0  # without any work done, and seconds between two: then a search hangs and is ended
ENDED = (
    "The search was ended by the system, most often because memory ran out. Your files are whole. "
    "Close other programs and try again; a season of fewer weeks needs less."
)


def watched(work: Callable[[], object], code: int) -> None:
    """Do something that ends with ``sys.exit`` in a child; ends with ``code`` and ENDED where the child was ended.

    Stopping this process stops the child. A child that does nothing for a minute waits for help that ended, and
    is ended (Linux). Where processes can't be forked, the work is done here.
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
    _end_if_it_hangs(child)
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


def _end_if_it_hangs(child: int) -> None:
    """Return when a child has ended; end it, and what it started, when none of them works any more (Linux)."""
    if not hasattr(os, "pidfd_open") or not os.path.exists(f"/proc/{child}/task/{child}/children"):
        return
    done, before, still = os.pidfd_open(child), -1, 0
    while not select.select([done], [], [], EVERY)[0]:
        family = list(_family(child))
        worked = sum(_ticks(pid) for pid in family)
        still = still + 1 if worked == before else 0
        before = worked
        if still >= LOOKS:
            for pid in reversed(family):
                with suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)
    os.close(done)


def _family(pid: int) -> Iterator[int]:
    """A process and all that it started."""
    yield pid
    with suppress(OSError):
        for thread in os.listdir(f"/proc/{pid}/task"):
            with open(f"/proc/{pid}/task/{thread}/children") as children:
                for one in children.read().split():
                    yield from _family(int(one))


def _ticks(pid: int) -> int:
    """Ticks of a processor that a process has had, told to the system's own clock."""
    with suppress(OSError), open(f"/proc/{pid}/stat") as stat:
        return sum(map(int, stat.read().rpartition(")")[2].split()[11:13]))
    return 0
