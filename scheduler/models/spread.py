"""Independent pieces of work side by side: one interface, so that a standard engine can take over."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import warnings
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import Future, wait
from concurrent.futures.process import BrokenProcessPool
from threading import Thread
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")
Other = TypeVar("Other")


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def spread(
    work: Callable[[Item], Result], items: Sequence[Item], workers: int, seconds: float | None = None
) -> Generator[tuple[int, Result], None, None]:
    """(number of the item, result) as they come; each item in a process of its own where workers allow.

    joblib runs it, so any of its back ends can (``joblib.parallel_config``). ``work`` and the
    items must be picklable. Closing the generator gives up what has not come yet; it ends
    early where processes let ``seconds`` pass without any result. What a process leaves undone
    that the system ends is done here.
    """
    if workers <= 1 or len(items) <= 1:
        yield from enumerate(map(work, items))
        return
    from joblib import Parallel, delayed

    left = dict(enumerate(items))
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r".*tasks? which were still being processed")
        tasks = (delayed(_numbered)(work, number, item) for number, item in enumerate(items))
        run = Parallel(n_jobs=workers, return_as="generator_unordered", batch_size=1, timeout=seconds)
        try:
            for number, result in run(tasks):
                del left[number]
                yield number, result
        except multiprocessing.TimeoutError:
            return
        except BrokenProcessPool:
            pass
    for number, item in left.items():
        yield number, work(item)


def aside(work: Callable[[], Result], workers: int, after: Future[Other] | None = None) -> Future[Result | None]:
    """Have work done in a process of its own, and go on; ask for its ``result``, None where the system ended that.

    The work is that of this moment: what changes here afterwards does not change it. ``after``: other work aside
    that goes first. With one worker it is done at once.
    """
    from joblib import Parallel, delayed

    if workers <= 1:
        return meanwhile(work, workers)
    packed = pickle.dumps(work)  # now: while another thread packs it, what it is made of may change

    def run() -> Result | None:
        if after is not None:
            wait([after])
        try:
            result: Result = Parallel(n_jobs=workers)([delayed(_unpacked)(packed)])[0]
            return result
        except BrokenProcessPool:
            return None

    return meanwhile(run, workers)


def meanwhile(work: Callable[[], Result], workers: int) -> Future[Result]:
    """Have work done in a thread, and go on: work that itself waits for what is done aside, or side by side.

    With one worker it is done at once.
    """
    out: Future[Result] = Future()

    def run() -> None:
        try:
            out.set_result(work())
        except BaseException as trouble:
            out.set_exception(trouble)

    if workers <= 1:
        out.set_result(work())
    else:
        Thread(target=run, daemon=True).start()
    return out


def _unpacked(work: bytes) -> object:
    return pickle.loads(work)()


def in_time(asked: Future[Result | None], seconds: float | None) -> Result | None:
    """A result that is there in so many seconds; None otherwise."""
    return asked.result() if asked in wait([asked], seconds).done else None


def _numbered(work: Callable[[Item], Result], number: int, item: Item) -> tuple[int, Result]:
    return number, work(item)
