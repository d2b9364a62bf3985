"""Independent pieces of work side by side: one interface, so that a standard engine can take over."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterable
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")


def cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def spread(work: Callable[[Item], Result], items: Iterable[Item], workers: int) -> Generator[Result, None, None]:
    """Results in the order of the items, as they come; each item in a process of its own where workers allow.

    joblib runs it, so any of its back ends can (``joblib.parallel_config``). ``work`` and the
    items must be picklable. Closing the generator gives up what has not come yet.
    """
    if workers <= 1:
        yield from map(work, items)
        return
    from joblib import Parallel, delayed

    yield from Parallel(n_jobs=workers, return_as="generator", batch_size=1)(delayed(work)(item) for item in items)
