"""How good a plan is, in plain words: never more than was proven."""

from __future__ import annotations

from scheduler.paper.figures import Figures
from scheduler.paper.words import count


def short_sentence(figures: Figures) -> str:
    """How much is short, firm orders before forecasts."""
    s = figures.summary
    if not s.demand_units:
        return "Nothing is asked for: there are neither orders nor forecasts."
    if not s.shortfall_units:
        return f"Nothing is short: all {count(s.demand_units, 'pack')} asked for can be ready."
    kinds = {"firm": 0, "standing": 0, "forecast": 0}
    pieces = 0
    for line in figures.plan.shortfalls:
        kinds[figures.kind(line.line)] += line.packs
        pieces += line.pieces
    words = {"firm": "of firm orders", "standing": "of standing orders", "forecast": "of forecasts"}
    parts = [f"{number:,} {words[kind]}" for kind, number in kinds.items() if number]
    told = ", ".join(parts) if len(parts) > 1 else parts[0].replace(f"{s.shortfall_units:,} ", "all ", 1)
    return (
        f"{count(s.shortfall_units, 'pack')} of {s.demand_units:,} asked for can't be ready "
        f"({count(pieces, 'piece')}): {told}."
    )


def proof_sentence(figures: Figures) -> str:
    """Whether a better plan can exist, and how much better at most."""
    s, stage = figures.summary, figures.plan.stage("shortfall")
    if not s.shortfall_units:
        return "No plan can do better on this."
    if stage is None or stage.bound is None:
        return "It is not known how much better another plan could do."
    if stage.proven or stage.bound >= s.shortfall_weighted:
        return "No plan can do better: this is proven for the orders, people and days of this season."
    if stage.bound <= 0 and figures.plan.extras.get("certificates"):
        return "A better plan may exist; the sums of the shortfall report say what is missing in every plan."
    if stage.bound <= 0:
        return "A better plan may exist: it is not proven that anything must be short."
    gap = s.shortfall_weighted - stage.bound
    share = 100 * gap / max(1, s.shortfall_weighted)
    percent = f"{share:.1f} %" if share >= 0.05 else "less than 0.1 %"
    packs = -(-gap * s.shortfall_units // s.shortfall_weighted)
    return (
        f"A better plan may exist, but it could mend at most {percent} of this shortage, "
        f"worth about {count(packs, 'pack')}."
    )


def thumb_sentence(figures: Figures) -> str:
    """The plan against a planner's rule of thumb, in the same weights; "" where it was not held against it."""
    s = figures.summary
    thumb, own = s.rule_of_thumb_shortfall_weighted, s.shortfall_weighted
    if thumb is None or thumb < own:
        return ""
    if thumb == own:
        return "Planning by rule of thumb comes out the same."
    if not own:
        return "Planned by rule of thumb, something would be short."
    times = f"{thumb / own:.1f}"
    if times == "1.0":
        return "Planned by rule of thumb, a little more would be short."
    return f"Planned by rule of thumb, the shortage would weigh {times} times as much."


def days_sentence(figures: Figures) -> str:
    """What is known about the single days."""
    days = [d for d in figures.plan.days if d.batches or d.packing or d.tasks]
    if not days:
        return "No day has any work in it."
    proven = sum(d.proven for d in days)
    fits = (
        f"All {count(len(days), 'day')} with work fit to the minute" if len(days) > 1 else "The day fits to the minute"
    )
    if not proven:
        return f"{fits}."
    if proven == len(days):
        return f"{fits}, and it is proven that no cheaper day with the same work exists."
    return f"{fits}; for {proven} of them it is proven that no cheaper day with the same work exists."


def late_sentence(figures: Figures) -> str:
    """How many packs come after their due day."""
    return f"{count(figures.summary.late_units, 'pack')} later than the due day, within what the customers accept."
