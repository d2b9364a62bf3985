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

_kept: dict[str, object] = {}  # in each process: the last that was made for work in rounds


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
        except RuntimeError as trouble:
            if not _help_ended(trouble):
                raise
    for number, item in left.items():
        yield number, work(item)


def aside(work: Callable[[], Result], workers: int, after: Future[Other] | None = None) -> Future[Result | None]:
    """Have work done in a process of its own, and go on; ask for its ``result``, None where the system ended that.

    The work is that of this moment: what changes here afterwards does not change it. ``after``: other work aside
    that goes first. With one worker it is done at once.
    """
    from joblib import Parallel, delayed

    out: Future[Result | None] = Future()
    if workers <= 1:
        out.set_result(work())
        return out
    packed = pickle.dumps(work)  # now: while another thread packs it, what it is made of may change

    def run() -> None:
        if after is not None:
            wait([after])
        try:
            result, trouble = Parallel(n_jobs=workers)([delayed(_unpacked)(packed)])[0]
        except BaseException as ended:
            result, trouble = None, None if _help_ended(ended) else ended
        if trouble is None:
            out.set_result(result)
        else:
            out.set_exception(trouble)

    Thread(target=run, daemon=True).start()
    return out


def _unpacked(work: bytes) -> tuple[object, Exception | None]:
    """What comes of packed work; trouble is handed back, as joblib ends all processes where any is raised."""
    try:
        return pickle.loads(work)(), None
    except Exception as trouble:
        return None, trouble


def _help_ended(trouble: BaseException) -> bool:
    """Whether the system ended a process, or others' work ended all of them: what they were given was not done."""
    return isinstance(trouble, BrokenProcessPool) or "executor underlying Parallel has been shutdown" in str(trouble)


def in_time(asked: Future[Result | None], seconds: float | None) -> Result | None:
    """A result that is there in so many seconds; None otherwise."""
    return asked.result() if asked in wait([asked], seconds).done else None


def kept(token: str, make: Callable[[], Result]) -> Result:
    """What this process has made for a token, ready to go on; made now where it was not. Only the last is kept."""
    if token not in _kept:
        _kept.clear()
        _kept[token] = make()
    return _kept[token]  # type: ignore[return-value]


def let_go() -> None:
    """Keep nothing any more."""
    _kept.clear()


def _numbered(work: Callable[[Item], Result], number: int, item: Item) -> tuple[int, Result]:
    return number, work(item)
