"""The rule of a plan that follows another: what had happened by then stays as it was."""

from __future__ import annotations

from datetime import date

from scheduler.audit.violation import Findings, Violation, clock
from scheduler.plan.types import Batch, DayPlan, Plan
from scheduler.season.types import Season

Border = tuple[date, int]


def audit_rebalance(before: Plan, season: Season, plan: Plan, now: Border) -> tuple[Violation, ...]:
    """Hold a plan against the plan it follows: `facts kept`.

    Days before ``now`` are the same to the letter; batches poured before it keep what had
    begun of them (a lost one is recorded as failed); every batch poured before it is a fact
    of the season; the border and the history say so.
    """
    return tuple(_facts_kept(before, season, plan, now))


def _facts_kept(before: Plan, season: Season, plan: Plan, now: Border) -> Findings:
    border = (plan.from_day, plan.from_minute)
    if border != now and plan.days != before.days:
        what = f"It plans from {border[0]}, {clock(border[1])} on; it was asked from {now[0]}, {clock(now[1])} on."
        yield Violation("facts kept", "plan", what)
    if plan.history[: len(before.history)] != before.history or len(plan.history) != len(before.history) + 1:
        yield Violation("facts kept", "plan", "Its history is not that of the plan before and one line more.")
    old, new = {d.day: d for d in before.days}, {d.day: d for d in plan.days}
    for day in sorted(set(old) | set(new)):
        one, other = old.get(day, DayPlan(day)), new.get(day, DayPlan(day))
        if day < now[0] and one != other:
            yield Violation("facts kept", str(day), "This day was past, and has been changed.")
        elif day == now[0]:
            yield from _begun(season, one, other, now[1])
    known = {m.batch for m in season.made}
    for day_plan in plan.days:
        for batch in day_plan.batches:
            if (day_plan.day, batch.pour) < border and batch.id not in known:
                what = "It has started already, but the season has no fact of it."
                yield Violation("facts kept", f"{day_plan.day} batch {batch.id}", what)


def _begun(season: Season, old: DayPlan, new: DayPlan, minute: int) -> Findings:
    """Runs, shifts and packing that had begun today keep their start; runs keep time and place."""
    lost = {m.batch for m in season.made if m.outcome != "made"}
    there = {b.id: b for b in new.batches}
    for batch in old.batches:
        if batch.pour < minute and batch.id not in lost:
            yield from _same_runs(batch, there.get(batch.id), old.day, minute)
    for batch in new.batches:
        if batch.pour < minute and batch.id not in {b.id for b in old.batches}:
            what = f"Starts at {clock(batch.pour)}, which is past."
            yield Violation("facts kept", f"{old.day} batch {batch.id}", what)
    in_now = {s.person: s for s in new.shifts}
    for shift in old.shifts:
        after = in_now.get(shift.person)
        if shift.starts < minute and (after is None or after.starts != shift.starts):
            what = f"In since {clock(shift.starts)}, but not any more."
            yield Violation("facts kept", f"{old.day} {shift.person}", what)
    begun = {(s.person, s.starts) for s in old.shifts}
    for shift in new.shifts:
        if shift.starts < minute and (shift.person, shift.starts) not in begun:
            what = f"Comes in at {clock(shift.starts)}, which is past."
            yield Violation("facts kept", f"{old.day} {shift.person}", what)


def _same_runs(old: Batch, new: Batch | None, day: date, minute: int) -> Findings:
    where = f"{day} batch {old.id}"
    if new is None or new.design != old.design:
        yield Violation("facts kept", where, "It had started, and is not in the plan any more.")
        return
    for before, after in zip(old.runs, new.runs, strict=False):
        fixed = (before.starts, before.ends, before.place)
        if before.starts < minute and fixed != (after.starts, after.ends, after.place):
            what = f"Its {before.stage} had begun at {clock(before.starts)} and is moved."
            yield Violation("facts kept", where, what)
