"""Children that die: work done in a process of its own that is killed at a look at the disk, or while writing."""

from __future__ import annotations

import os
import resource
import signal
import sys
from collections.abc import Callable

from scheduler.season.safe_write import CannotWrite
from tests.trust.table import Row

LOOKS = ("open", "os.rename", "os.mkdir", "os.rmdir", "os.remove", "os.listdir", "os.chmod")



def in_child(work: Callable[[], object]) -> tuple[int, str]:
    """Do something in a process of its own: its exit code, and what it said (CannotWrite and its like)."""
    heard, say = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 0
        try:
            os.close(heard)
            work()
        except CannotWrite as no:
            code = 3
            os.write(say, str(no).encode())
        except BaseException as trouble:
            code = 4
            os.write(say, f"{type(trouble).__name__}: {trouble}".encode()[:2000])
        finally:
            os._exit(code)
    os.close(say)
    words = b""
    while part := os.read(heard, 4096):
        words += part
    os.close(heard)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), words.decode()


def killed_at(point: int, work: Callable[[], object]) -> bool:
    """Do something in a child that kills itself at its n-th look at the disk; whether it got there."""

    def dying() -> None:
        left = [point]

        def watch(event: str, _: object) -> None:
            if event in LOOKS:
                left[0] -= 1
                if left[0] < 0:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(watch)
        work()

    return in_child(dying)[0] == -signal.SIGKILL


def killed_after(size: int, work: Callable[[], object]) -> bool:
    """Do something in a child that the system kills in the middle of writing, after so many bytes of a file."""

    def cut_off() -> None:
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
        work()

    return in_child(cut_off)[0] == -signal.SIGXFSZ


def points_of(work: Callable[[], object]) -> int:
    """How many looks at the disk something takes."""

    def counting() -> None:
        seen = [0]
        sys.addaudithook(lambda event, _: seen.__setitem__(0, seen[0] + (event in LOOKS)))
        work()
        raise RuntimeError(str(seen[0]))

    return int(in_child(counting)[1].split()[-1])


def killed_everywhere(
    row: Row, reset: Callable[[], object], work: Callable[[], object], whole: Callable[[], str], most: int
) -> None:
    """Kill at up to ``most`` points spread over the whole writing."""
    reset()
    count = points_of(work)
    for point in sorted({count * i // most for i in range(most)}):
        reset()
        died = killed_at(point, work)
        failure = whole() if died else f"was not killed at {point}"
        row.count(f"at {point} of {count}: {failure}" if failure else None)
    for size in (0, 1, 200, 900, 2000, 3500, 5000, 8000, 12_000, 20_000)[:: 4 if most < 5 else 1]:
        reset()
        if killed_after(size, work):
            failure = whole()
            row.count(f"after {size} bytes: {failure}" if failure else None)
