"""Somebody is ill at 6:30: the few plans between "nobody else moves" and "nothing more is short".

What happened before now stays as it was. Each choice is audited, has its changes counted,
and says how few changes any plan with no more short would need.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import TYPE_CHECKING

from scheduler.answers.facts import Moment, as_planned
from scheduler.audit import audit
from scheduler.audit.belongs import past_that_fits_no_more, strangers
from scheduler.plan.begun import disturbed, leaves_at
from scheduler.plan.changes import Changes, compare, lost
from scheduler.plan.files import PlanFaults, plan_fingerprint
from scheduler.plan.types import Ancestry, DayPlan, Plan
from scheduler.season.fingerprint import fingerprint
from scheduler.season.types import Absence, Season

if TYPE_CHECKING:
    from scheduler.models.replan.frontier import Frontier

Progress = Callable[[str], None]
MOST_CHOICES = 5
SOON = 7.0  # seconds: somebody is waiting
PINS = "No plan keeps the pins after this: take out those that ask for what can't be any more, and try again."
ONLY_FROM_NOW = "Write what is new from now on into days, absences or pins, and leave the other tables as they were."
ANEW = "Take that change back, or plan the season anew."


@dataclass(frozen=True)
class Choice:
    """One plan on the frontier, with the season that holds its facts (a batch may be lost).

    ``points`` count its changes, ``least_points`` is proven: no plan with as little short
    (``short``: weight, promised packs first) has fewer. ``cost_cents``: labour against the plan before.
    """

    plan: Plan
    season: Season
    changes: Changes
    short: int
    short_packs: int
    more_short_packs: int
    lost: tuple[tuple[str, int], ...]  # lines with more packs short than before, whatever others gain, and how many
    cost_cents: int
    least_points: int

    @property
    def points(self) -> int:
        return self.changes.points

    @property
    def lost_packs(self) -> int:
        return sum(packs for _, packs in self.lost)

    @property
    def proven(self) -> bool:
        """Whether no plan with as little short changes less."""
        return self.points <= self.least_points


@dataclass(frozen=True)
class Shown:
    """Plans found once, so that they need not be sought again: of each the number of its way on, the plan without
    this step in its history, what is short and the points proven; ``complete`` as in Rebalance; ``within``: the days
    from first to last that were free to change, None where all were.
    """

    choices: tuple[tuple[int, Plan, int, int], ...]
    complete: bool
    within: tuple[date, date] | None = None


@dataclass(frozen=True)
class Rebalance:
    """The season with the news and all facts up to now, and the choices, fewest changes first.

    ``complete``: it is proven that no other plan is worth showing. ``begun``: the day had
    begun; what is proven holds for the plans in which today goes on as in one of the choices.
    """

    season: Season
    before: Plan
    now: Moment
    choices: tuple[Choice, ...]
    news: bool
    complete: bool = True
    begun: bool = False
    shown: Shown | None = None
    effort: float = 1.0  # with which it was sought


def rebalance(
    season: Season,
    plan: Plan,
    now: Moment,
    absences: Iterable[Absence] = (),
    reason: str = "",
    effort: float = 1.0,
    seconds: float | None = None,
    progress: Progress | None = None,
    shown: Shown | None = None,
) -> Rebalance:
    """Choices for going on after the news; the season given holds what was recorded.

    ``seconds``: by the clock, at most; without it nothing more is sought after SOON once there are plans to choose
    from. ``shown``: plans found before for the same news, which are looked at again and not sought.

    A plan with no news has one choice: itself. Raises NoPlan, with what to do, where no plan
    keeps every rule (pins that can't be kept together, a day that nobody can finish) or time is too short,
    Contradiction for a pin that names its reason, and PlanFaults where plan and season don't belong together.
    """
    if strange := strangers(season, plan):
        raise PlanFaults("\n".join(strange[:10]))
    began = time.monotonic()
    deadline = None if seconds is None else began + seconds
    say = progress or (lambda _line: None)
    added = tuple(a for a in absences if a not in season.absences)
    told = replace(season, absences=(*season.absences, *added))
    line = Ancestry(plan_fingerprint(plan), now.day, now.minute, reason or _reason(added))
    if not added and not has_news(season, plan):
        same = replace(plan, history=(*plan.history, line))
        choice = Choice(same, season, compare(plan, same, now.day), 0, _short_packs(plan), 0, (), 0, 0)
        return Rebalance(season, plan, now, (choice,), False)
    from scheduler.models.no_plan import NoPlan
    from scheduler.models.pins import check_pins
    from scheduler.models.replan.choices import Ahead, ahead_of
    from scheduler.models.replan.frontier import frontier

    if fault := past_that_fits_no_more(told, plan, now.day):
        raise PlanFaults(f"What is past does not fit the season's tables any more: {fault} {ONLY_FROM_NOW}")
    today = next((d for d in plan.days if d.day == now.day), DayPlan(now.day))
    happened = as_planned(told, plan, now, cut=disturbed(told, today, now.minute))
    say("looking for the plan that moves least")

    ways = ahead_of(happened, plan, now.day, now.minute)
    for ahead in ways:
        check_pins(ahead.facts)
    if shown is None or not shown.choices or any(way not in range(len(ways)) for way, *_ in shown.choices):
        limit = deadline if deadline is not None else math.inf
        soon = deadline if deadline is not None else began + SOON

        def front(ahead: Ahead) -> Frontier:
            return frontier(ahead, effort, MOST_CHOICES, say, 1 / max(1, len(ways)), limit, soon)

        with ThreadPoolExecutor(2) as pool:
            fronts = list(pool.map(front, ways))
        none = all(front.none for front in fronts)
        found = tuple((k, f.plan, f.short, f.least_points) for k, front in enumerate(fronts) for f in front.plans)
        shown = Shown(found, all(front.complete for front in fronts), _within(fronts))
        if not found:
            if not none:
                raise NoPlan("No plan was ready in the time given; give it more, or leave --seconds and --effort out.")
            raise NoPlan(PINS if ways else _no_way_on(happened, today, now))
    choices: list[Choice] = []
    for way, made, short, least in shown.choices:
        ahead = ways[way]
        after = replace(made, history=(*plan.history, line))
        more, cost = _short_packs(after) - _short_packs(plan), _cost(after) - _cost(plan)
        changes = compare(plan, after, now.day, ahead.absent)
        losses = tuple(lost(plan, after).items())
        choices.append(Choice(after, ahead.season, changes, short, _short_packs(after), more, losses, cost, least))
    begun = any(ahead.fixed is not None for ahead in ways)
    best = _best(choices)
    complete = shown.complete and len(best) <= MOST_CHOICES
    best = best[:MOST_CHOICES]
    broken = {id(c): audit(c.season, c.plan) for c in best}
    sound = tuple(c for c in best if not broken[id(c)])
    if not sound:
        raise NoPlan(f"The season's tables changed in a way that can't be mended: {broken[id(best[0])][0]} {ANEW}")
    return Rebalance(happened, plan, now, sound, True, complete and len(sound) == len(best), begun, shown, effort)


def _no_way_on(season: Season, today: DayPlan, now: Moment) -> str:
    """Why today can't go on at all, and what to do."""
    left = [s.person for s in today.shifts if s.ends > now.minute and leaves_at(season, today, s, now.minute) is None]
    k, tomorrow = season.kitchen, now.day + timedelta(1)
    who = f"{', '.join(left)} can't" if left else "nobody can"
    return (
        f"From {now} on {who} finish the day by the rules and close down ({k.closing_minutes} minutes by "
        f"{k.closing_people}). Ask somebody in, and write so into the availability or absences; or end the day by "
        f"hand, write down what became of its batches (rockrota record), and rebalance from tomorrow: --now {tomorrow}."
    )


def has_news(season: Season, plan: Plan) -> bool:
    """Whether the season says anything that the plan was not made for."""
    if fingerprint(season) == plan.season:
        return False
    border = Moment(plan.from_day, plan.from_minute)
    return fingerprint(as_planned(season, plan, border)) != plan.season


def _best(choices: list[Choice]) -> list[Choice]:
    """Choices by points, those left out that another beats in both points and what is short."""
    choices = sorted(choices, key=lambda c: (c.points, c.short, c.cost_cents))
    kept: list[Choice] = []
    for choice in choices:
        if not kept or choice.short < kept[-1].short:
            kept.append(choice)
    return kept


def _within(fronts: Iterable[Frontier]) -> tuple[date, date] | None:
    spans = [front.within for front in fronts]
    known = [span for span in spans if span is not None]
    return (min(a for a, _ in known), max(b for _, b in known)) if known and len(known) == len(spans) else None


def _short_packs(plan: Plan) -> int:
    return sum(s.packs for s in plan.shortfalls)


def _cost(plan: Plan) -> int:
    stage = plan.stage("cost")
    return 0 if stage is None else stage.value


def _reason(absences: tuple[Absence, ...]) -> str:
    return "; ".join(f"{a.person} away from {a.first_day} to {a.last_day}" for a in absences) or "records"
