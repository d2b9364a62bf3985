"""Work aside: in a process of its own, in turn, and not waited for longer than there is time."""

from __future__ import annotations

import inspect
import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterable
from concurrent.futures import Future
from functools import partial

import joblib
import pytest
from joblib import _parallel_backends
from scheduler.models.caps.limits import DayLimits, most_in
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.search.sketch import sketch
from scheduler.models.solvers.spread import aside, in_time, spread
from tests.seasons import small_random


def test_one_after_the_other() -> None:
    """The second begins when the first has ended: 0.3 s later on the clock that all processes share."""
    first = aside(partial(time.sleep, 0.3), 2)
    began = time.monotonic()
    second = aside(time.monotonic, 2, after=first)
    assert second.result() - began >= 0.25


def test_trouble_aside_is_raised_where_the_result_is_asked_for() -> None:
    """A division by zero in the other process, and what comes after it is done all the same."""
    first = aside(partial(divmod, 1, 0), 2)
    assert aside(partial(divmod, 7, 2), 2, after=first).result() == (3, 1)
    with pytest.raises(ZeroDivisionError):
        first.result()


def _ended(number: int) -> int:
    """Twice the number; the process of the third piece is ended by the system, but not the one that started it."""
    if number == 3 and multiprocessing.parent_process() is not None:
        os.kill(os.getpid(), signal.SIGKILL)
    return 2 * number


def test_work_of_a_process_that_is_ended_is_done_here() -> None:
    """Six pieces of work, of which the third ends its process: all six are told."""
    assert dict(spread(_ended, range(6), 2)) == {n: 2 * n for n in range(6)}


def _slowly(number: int) -> int:
    time.sleep(0.2)
    return 2 * number


def test_trouble_aside_does_not_end_work_side_by_side() -> None:
    """A division by zero aside, amid six pieces of work: each of them is done once, in its process."""
    began = spread(_slowly, range(6), 2)
    done = [next(began)]
    first = aside(partial(divmod, 1, 0), 2)
    assert dict([*done, *began]) == {n: 2 * n for n in range(6)}
    with pytest.raises(ZeroDivisionError):
        first.result()


def test_work_is_done_here_when_all_processes_are_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """Others' trouble shuts the processes down amid six pieces of work: all six are told.

    With joblib's own words for it, in the place of a real shutdown, in which joblib can wait for itself for ever.
    """
    words = "The executor underlying Parallel has been shutdown. "
    assert words in inspect.getsource(_parallel_backends)

    class ShutDown:
        def __init__(self, **_: object) -> None:
            pass

        def __call__(
            self, tasks: Iterable[tuple[Callable[..., object], tuple[object, ...], dict[str, object]]]
        ) -> object:
            work, args, _ = next(iter(tasks))
            yield work(*args)
            raise RuntimeError(words)

    monkeypatch.setattr(joblib, "Parallel", ShutDown)
    assert dict(spread(_slowly, range(6), 2)) == {n: 2 * n for n in range(6)}


def test_help_aside_that_is_ended_tells_nothing() -> None:
    """None, and what comes after it is done all the same."""
    first = aside(partial(_ended, 3), 2)
    assert aside(partial(_ended, 4), 2, after=first).result() == 8
    assert first.result() is None


def test_the_work_is_that_of_the_moment() -> None:
    """A list that grows while the work waits for its turn is told as it was: here three, afterwards four."""
    some = [1, 2, 3]
    first = aside(partial(time.sleep, 0.2), 2)
    second = aside(partial(len, some), 2, after=first)
    some.append(4)
    assert second.result() == 3


def test_what_is_not_there_in_time_is_left() -> None:
    """Nothing comes of it: None at once; what is there is told."""
    never, there = Future[int](), Future[int]()
    there.set_result(5)
    assert (in_time(never, 0.01), in_time(there, 0.01), in_time(there, None)) == (None, 5, 5)


def test_what_is_known_of_days_goes_to_another_process() -> None:
    """The caps are not worked out again there: the same sketch comes of it as here."""
    facts = facts_of(small_random(3), PlanOptions())
    limits = DayLimits(facts)
    limits.prepare()
    assert aside(partial(sketch, facts, limits.copy(), None), 2).result() == sketch(facts, limits, None)


def test_what_days_hold_is_proven_elsewhere() -> None:
    """What comes back from another process is what would have been worked out here."""
    facts = facts_of(small_random(3), PlanOptions())
    here, there = DayLimits(facts), DayLimits(facts)
    here.prepare()
    there.take(aside(there.copy().prove, 2).result())
    assert [there.likely(t) for t in facts.days] == [here.caps(t) for t in facts.days]


def test_until_it_is_proven_a_better_day_stands_for_a_poorer_one() -> None:
    """Of the first sort the caps are its own; all others hold for now what a day that offers no less holds."""
    facts = facts_of(small_random(3), PlanOptions())
    limits, proven = DayLimits(facts), DayLimits(facts)
    limits.guess()
    proven.prepare()
    for t in facts.days:
        assert most_in(limits.likely(t)) >= most_in(proven.caps(t)) >= limits.usual(t)
    assert len(limits._caps) < len(proven._caps)
