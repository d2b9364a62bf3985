"""From a season to a plan: rule of thumb, season model, days to the minute, and back until all fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from scheduler.demand.build import build_demand
from scheduler.demand.lines import Demand
from scheduler.models.bound import shortfall_bound_of
from scheduler.models.days import Book
from scheduler.models.facts import Facts
from scheduler.models.fitting import Fitter
from scheduler.models.limits import DayLimits
from scheduler.models.pins import Contradiction, check_pins
from scheduler.models.season import Wish
from scheduler.models.season_hint import hints_from
from scheduler.models.season_solve import build, solve
from scheduler.models.thumb import rule_of_thumb
from scheduler.plan.lots import Allocation, allocate
from scheduler.plan.types import DayPlan, Plan
from scheduler.models.result import stages_of
from scheduler.season import rules
from scheduler.season.fingerprint import fingerprint
from scheduler.season.types import Season

Progress = Callable[[str], None]

__all__ = ["Contradiction", "NoPlan", "PlanOptions", "plan_season"]


class NoPlan(Exception):
    """No plan in the time that the caller allowed."""


@dataclass(frozen=True)
class PlanOptions:
    """How hard to try, and from when.

    ``effort`` 1 is the usual work; ``seconds`` caps the clock (then a plan may differ next
    time). Days before ``from_day`` are taken from ``keep``.
    """

    effort: float = 1.0
    seconds: float | None = None
    workers: int = 2
    rounds: int = 6
    from_day: date | None = None
    keep: Plan | None = None


@dataclass(frozen=True)
class Fitted:
    """Days that fit to the minute, and what they give to whom."""

    days: tuple[DayPlan, ...]
    given: Allocation
    missed: int

    @property
    def worth(self) -> tuple[int, int]:
        """Smaller is better: missed shows, weighted shortfall."""
        return self.missed, self.given.weighted


def plan_season(season: Season, options: PlanOptions = PlanOptions(), progress: Progress | None = None) -> Plan:
    """The best plan found for a season, every day proven to fit.

    Raises Contradiction where pins can't all be kept, NoPlan where ``seconds`` is too short.
    """
    say = progress or (lambda _line: None)
    facts = facts_of(season, options)
    check_pins(facts)
    limits = DayLimits(facts)
    limits.prepare(options.workers)
    fitter = Fitter(facts, limits, options.workers)
    say("planning by rule of thumb")
    thumb = fit_whole(facts, fitter, rule_of_thumb(facts, limits), learn=False)
    best = thumb
    say(f"rule of thumb: {best.given.weighted} short")
    bound = shortfall_bound_of(facts, limits).value
    for number in range(options.rounds):
        if best.worth <= (0, bound):
            break
        say(f"round {number + 1}: deciding days; {best.given.weighted} short, no plan below {bound}")
        board = build(facts, limits)
        answer = solve(board, effort_for(facts, options), hints_from(board, best.days, best.given))
        if answer.wish is None:
            break
        say(f"round {number + 1}: fitting days to the minute; {answer.shortfall} short hoped for")
        fitted = fit_whole(facts, fitter, answer.wish)
        say(f"round {number + 1}: {fitted.worth} {len(fitter.failed)} failed")
        if fitted.worth < best.worth:
            best = fitted
        if not fitter.failed:
            break
    say("making the days cheaper")
    best = replace(best, given=replace(best.given, days=fitter.polish(best.given.days)))
    return finish(facts, options, best, thumb, bound)


def facts_of(season: Season, options: PlanOptions) -> Facts:
    """What planning starts from: demand and the days already decided."""
    first = 0 if options.from_day is None else max(0, season.index(options.from_day))
    done: tuple[DayPlan, ...] = ()
    if options.keep is not None:
        done = tuple(d for d in options.keep.days if 0 <= season.index(d.day) < first)
    return Facts(season, build_demand(season, first), first, done)


def effort_for(facts: Facts, options: PlanOptions) -> float:
    """Deterministic effort of the season model, by size."""
    return options.effort * max(1.0, len(facts.days) * len(facts.season.designs) / 100)


def fit_whole(facts: Facts, fitter: Fitter, wish: Wish, learn: bool = True) -> Fitted:
    """Fit all days of a wish, give out what they yield."""
    book = fitter.fit(wish, learn)
    return give_out(facts, book, wish)


def give_out(facts: Facts, book: Book, wish: Wish | None) -> Fitted:
    days = tuple(book.days[t] for t in sorted(book.days))
    given = allocate(
        facts.season, facts.demand, days, None if wish is None else wish.fills, None if wish is None else wish.late
    )
    missed = 0
    for t in facts.days:
        today = rules.shows_on(facts.season, facts.season.days[t])
        missed += len(book.days[t].missed_shows) if t in book.days else len(today)
    return Fitted(days, given, missed)


def finish(facts: Facts, options: PlanOptions, best: Fitted, thumb: Fitted, bound: int) -> Plan:
    """Put the plan together; every figure is what the plan's parts add up to."""
    season = facts.season
    days = _with_missed(facts, best.given.days)
    return Plan(
        kitchen=season.kitchen.name,
        season=fingerprint(season),
        first_day=season.kitchen.first_day,
        last_day=season.kitchen.last_day,
        days=days,
        lots=best.given.lots,
        fills=best.given.fills,
        shortfalls=best.given.shortfalls,
        stages=stages_of(facts, days, best.given, bound),
        rule_of_thumb_weighted=thumb.given.weighted,
        from_day=options.from_day or season.kitchen.first_day,
        history=options.keep.history if options.keep is not None else (),
    )


def _with_missed(facts: Facts, days: tuple[DayPlan, ...]) -> tuple[DayPlan, ...]:
    """Days with the shows that nobody holds named, also where nothing else happens."""
    by_day = {d.day: d for d in days}
    for t in facts.days:
        day = facts.season.days[t]
        shows = rules.shows_on(facts.season, day)
        if shows and day not in by_day:
            by_day[day] = DayPlan(day, missed_shows=tuple(s.name for s in shows), proven=True)
    return tuple(d for _, d in sorted(by_day.items()) if d != DayPlan(d.day, proven=d.proven))
