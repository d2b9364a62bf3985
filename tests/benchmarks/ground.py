"""What every peer stands on: the same season, the same clock, the same knowledge of days, the same scoring.

The clock starts before the first line of modelling. A peer tells ``step`` what it has so far;
at the end its wish for the days is fitted to the minute and audited, whoever made it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.facts import Facts
from scheduler.models.search.finish import finish
from scheduler.models.search.fitted import Fitted, fit_whole
from scheduler.models.search.fitting import Fitter
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.models.search.thumb import rule_of_thumb
from scheduler.plan.types import Plan
from scheduler.season.types import Season
from tests.benchmarks.cases import CHECKPOINTS

Event = dict[str, Any]
THREADS = 2


@dataclass
class Ground:
    """One run of one peer. ``tell`` takes events as they happen; ``seconds`` is what the peer gets,

    ``fit`` what it gets afterwards to fit what it wished.
    """

    season: Season
    seconds: float
    tell: Callable[[Event], None]
    fit: float = 60.0
    began: float = field(default_factory=time.monotonic)
    kept: dict[float, Any] = field(default_factory=dict)  # mark -> the best found by then
    bound: int | None = None

    @cached_property
    def facts(self) -> Facts:
        return facts_of(self.season, PlanOptions())

    @cached_property
    def limits(self) -> DayLimits:
        """The proven caps of all sorts of days: every peer may know them, and pays the time for them."""
        limits = DayLimits(self.facts)
        firsts = {limits.signature(t): t for t in reversed(self.facts.days)}
        with ThreadPoolExecutor(THREADS) as pool:
            list(pool.map(limits.caps, sorted(firsts.values())))
        return limits

    @cached_property
    def fitter(self) -> Fitter:
        return Fitter(self.facts, self.limits, THREADS, until=self.began + self.seconds)

    @property
    def now(self) -> float:
        return time.monotonic() - self.began

    @property
    def left(self) -> float:
        """Seconds that the peer still has."""
        return self.seconds - self.now

    def step(self, short: int | None, bound: int | None = None, fitted: bool = False) -> None:
        """Something better is known: a plan (fitted to the minute, or hoped for) or a bound."""
        if bound is not None:
            self.bound = bound if self.bound is None else max(self.bound, bound)
        self.tell({"kind": "step", "at": round(self.now, 2), "short": short, "bound": self.bound, "fitted": fitted})

    @property
    def marks(self) -> list[float]:
        """Checkpoints within the peer's time, and its end."""
        return [at for at in CHECKPOINTS if at < self.seconds] + [self.seconds]

    def keep(self, found: Any) -> None:
        """Remember the best so far for the marks that it is in time for."""
        for at in self.marks:
            if self.now <= at or at == self.seconds:
                self.kept[at] = found


def fit_wishes(ground: Ground, wish_of: Callable[[Any], Wish], every: bool) -> None:
    """Fit what a peer hoped for, the last first; ``every`` also what it had at the earlier marks.

    Each in ``ground.fit`` seconds: afterwards only days that were found before are used.
    """
    done = dict[int, tuple[int, int]]()
    for at in sorted(ground.kept, reverse=True):
        found = ground.kept[at]
        if id(found) not in done and (every or not done):
            began = time.monotonic()
            ground.fitter.until = began + ground.fit
            best = fit_whole(ground.facts, ground.fitter, wish_of(found))
            if not done:
                tell_end(ground, plan_of(ground, best), time.monotonic() - began)
            done[id(found)] = best.worth
        if id(found) in done:
            ground.tell({"kind": "fitted", "mark": at, "short": done[id(found)][1]})


def plan_of(ground: Ground, best: Fitted) -> Plan:
    """The plan that a peer's days make."""
    return finish(ground.facts, PlanOptions(), best, best, ground.bound or 0)


def tell_end(ground: Ground, plan: Plan, fit_seconds: float = 0.0) -> None:
    """The last word on a run: what the audit says of the plan, and what the plan is short."""
    stage = {s.name: s.value for s in plan.stages}
    ground.tell({
        "kind": "end", "fitted": sum(s.weighted for s in plan.shortfalls), "missed": stage["missed shows"],
        "violations": len(audit(ground.season, plan)), "fit_seconds": round(fit_seconds, 1),
        "fit_cut": ground.fit if fit_seconds >= ground.fit else None,
    })  # fmt: skip


def by_rule_of_thumb(ground: Ground) -> Wish:
    """The rule of thumb's wish; what days usually take is worked out for it."""
    ground.limits.prepare()
    return rule_of_thumb(ground.facts, ground.limits)


def demand_of(facts: Facts) -> int:
    """All that is asked for, weighted."""
    return facts.demand.weight
