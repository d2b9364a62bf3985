"""A plan as it stands after news that moves nobody: its days stay, what was recorded counts, candy is given out again.

For a question in the middle of the day, before anybody has looked at the choices that follow from the news.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from scheduler.answers.facts import Moment, as_planned
from scheduler.audit import audit
from scheduler.audit.belongs import past_that_fits_no_more, strangers
from scheduler.plan.begun import disturbed
from scheduler.plan.files import plan_fingerprint
from scheduler.plan.types import Ancestry, Plan
from scheduler.season.types import Season


def as_it_stands(season: Season, plan: Plan, now: Moment) -> tuple[Season, Plan] | None:
    """The season with all facts up to now, and the plan with its days as they are; None where they can't stay so.

    Everybody gets what they had, as far as the candy is there. None where somebody is away who is in by the plan,
    a batch of today is lost on the way, or another rule would be broken: then a choice is to be taken first.
    """
    if strangers(season, plan) or past_that_fits_no_more(season, plan, now.day):
        return None
    from scheduler.models.counts.board import Wish
    from scheduler.models.replan.choices import ahead_of
    from scheduler.models.replan.made_real import made_real
    from scheduler.models.replan.mend import Mended

    if any(day.day == now.day and disturbed(season, day, now.minute) for day in plan.days):
        return None
    (ahead,) = ahead_of(as_planned(season, plan, now), plan, now.day, now.minute)
    if ahead.absent:
        return None
    packing = {t: tuple(day.packs.items()) for t, day in ahead.before.items()}
    late = Counter[str]()
    for fill in plan.fills:
        late[fill.line] += fill.packs if fill.late and fill.packed is not None and fill.packed >= now.day else 0
    in_time = {line: max(0, packs - late[line]) for line, packs in ahead.had.items()}
    wish = Wish({}, packing, {}, {}, in_time, +late)
    made = made_real(ahead, Mended(ahead.before, wish)).plan
    line = Ancestry(plan_fingerprint(plan), now.day, now.minute, "records")
    after = replace(made, history=(*plan.history, line))
    return None if audit(ahead.season, after) else (ahead.season, after)
