"""The shortfall report as a letter from a careful colleague: what is short, whom to call, why, what would mend it."""

from __future__ import annotations

from datetime import date, timedelta

from scheduler.answers.certificate import Certificate
from scheduler.answers.remedy import Remedy, remedies_of
from scheduler.paper.cures import ASK, TAKE, cure
from scheduler.paper.figures import Figures
from scheduler.paper.proof_words import proof_sentence, short_sentence
from scheduler.paper.sums import heading, sentences
from scheduler.paper.text import clean
from scheduler.paper.urgency import in_order
from scheduler.paper.words import capital, count, day_short, listed, money
from scheduler.plan.types import Plan, Shortfall
from scheduler.season.types import Season

KIND_WORDS = (
    ("firm", "firm orders", "order"), ("standing", "standing orders", "order"),
    ("forecast", "forecasts for the holidays", "forecast"),
)  # fmt: skip
MOST_CALLS = 12


def report(season: Season, plan: Plan) -> str:
    """The whole report in plain text."""
    figures = Figures(season, plan)
    parts = [f"{season.kitchen.name}: what is short, and why", "", short_sentence(figures)]
    if not plan.shortfalls:
        return clean("\n".join(parts), keep_lines=True)
    parts += [proof_sentence(figures), *_by_kind(figures), *_calls(figures), *_reasons(figures), *_remedies(figures)]
    return clean("\n".join(parts), keep_lines=True)


def _by_kind(figures: Figures) -> list[str]:
    """Packs and pieces, firm orders apart from forecasts."""
    out = [""]
    for kind, words, one in KIND_WORDS:
        rows = [s for s in figures.plan.shortfalls if figures.kind(s.line) == kind]
        if rows:
            packs, pieces = sum(s.packs for s in rows), sum(s.pieces for s in rows)
            out.append(
                f"  {capital(words)}: {count(packs, 'pack')} short ({count(pieces, 'piece')}), "
                f"in {count(len(rows), one)}."
            )
        else:
            out.append(f"  {capital(words)}: nothing short.")
    return out


def _calls(figures: Figures) -> list[str]:
    """Customers to call; those whose day is past, who know it by now, last."""
    short = [s for s in in_order(figures) if figures.kind(s.line) != "forecast" and s.line in figures.lines]
    if not short:
        return ["", "No customer has to be called: only forecasts are short."]
    short.sort(key=lambda s: _due(figures, s) < figures.plan.from_day)
    out = ["", "Call first:"]
    out += [f"  {number}. {call(figures, s)}" for number, s in enumerate(short[:MOST_CALLS], 1)]
    if len(short) > MOST_CALLS:
        out.append(f"  and {len(short) - MOST_CALLS} more: see the sheet Shortfall.")
    return out


def call(figures: Figures, short: Shortfall) -> str:
    """What to say to one customer."""
    line, due = figures.lines[short.line], _due(figures, short)
    who = line.customer or f"whoever ordered {line.id}"
    if due < figures.plan.from_day:
        return f"{who}: {short.packs:,} {line.product} still missing of {line.id}, due {day_short(due)} and past."
    have = figures.covered(line.id)
    can = f"{count(have, 'pack')} can be ready" if have else "nothing of it can be ready"
    told = " We have confirmed this order." if line.confirmed else ""
    asked = f"{line.asked:,} {line.product} ({line.id}, due {day_short(due)})"
    return f"{who}: {asked}: {short.packs:,} short, {can}.{told}"


def _due(figures: Figures, short: Shortfall) -> date:
    return figures.season.kitchen.first_day + timedelta(days=figures.lines[short.line].due)


def _reasons(figures: Figures) -> list[str]:
    """The sums, then what no sum proves."""
    certificates = figures.certificates
    if not certificates and "certificates" not in figures.plan.extras:
        return []
    out = ["", "Why:"]
    for number, certificate in enumerate(certificates, 1):
        out.append(f"  {number}. {heading(figures.season, certificate)}.")
        words = cure(figures.season, certificate)
        out += [f"     {s}" for s in (words, *sentences(figures.season, certificate)) if s]
    if words := alone(figures, certificates):
        out.append(f"  {words}")
    held = {i.line for c in certificates for i in c.inside}
    open_rows = [s for s in in_order(figures) if s.line not in held]
    if open_rows:
        out.append(f"  {unproven(figures, open_rows)}")
    return out


def alone(figures: Figures, certificates: list[Certificate]) -> str:
    """Why a sum leaves more open than what is said of a better plan; blank where no sum does, or nothing is said."""
    stage = figures.plan.stage("shortfall")
    if stage is None or not stage.bound or all(c.pieces_short >= c.short_in_plan for c in certificates):
        return ""
    return (
        "Each sum counts one limit alone; what is said at the top about a better plan counts all limits together, and "
        "so shows more."
    )


def unproven(figures: Figures, rows: list[Shortfall]) -> str:
    """What is short though no single limit proves that it must be."""
    named = listed([f"{s.line} ({count(s.packs, 'pack')})" for s in rows[:8]])
    more = f" and {len(rows) - 8} more" if len(rows) > 8 else ""
    stage = figures.plan.stage("shortfall")
    if stage is not None and stage.proven:
        rest = "It is proven all the same that no plan is less short: several limits act together."
    else:
        rest = "Several limits act together, or a better plan exists that was not found."
    return f"For {named}{more} no single limit shows that it must be so. {rest}{together_words(figures)}"


def together_words(figures: Figures) -> str:
    """The smallest set of limits that proves the shortage, where it was worked out."""
    stored = figures.plan.extras.get("together")
    if not isinstance(stored, dict) or not stored.get("value"):
        return ""
    whole = sum(s.weighted for s in figures.plan.shortfalls)
    share = 100 * min(stored["value"], whole) // max(1, whole)
    names = stored["limits"] or ["due days, sell-by and supplies"]
    alone = "alone." if len(names) == 1 else "together, and none of them can be left out."
    told = f" By computation, not on paper: {share} % of the whole shortage by weight follows from"
    return f"{told} {listed(names)} {alone}"


def _remedies(figures: Figures) -> list[str]:
    """What would mend it, the most packs for the money first."""
    if "remedies" not in figures.plan.extras:
        return ["", ASK]
    out = ["", "What would mend it (each planned through to the minute; the most packs for the money first):"]
    out += [f"  {number}. {remedy_words(figures, r)}" for number, r in enumerate(remedies_of(figures.plan), 1)]
    out += [f"  {line}" for line in [looked_into(figures)] if line]
    return [*out, *(["", TAKE] if remedies_of(figures.plan) else [])]


def looked_into(figures: Figures) -> str:
    """That no change mends anything; and how many the time allowed for, where that was not all."""
    stored = figures.plan.extras.get("remedies_tried")
    tried, of = stored if isinstance(stored, list) else (1, 1)
    if not tried and of and not remedies_of(figures.plan):
        return "There was no time to look into any change: allow more seconds."
    none = "" if remedies_of(figures.plan) else "Of the changes that were looked into, none mends anything. "
    left = f"{tried} of {count(of, 'change')} could be looked into to the end in the time given"
    return (none + (f"{left}; give it more with --seconds." if tried < of else "")).strip()


def remedy_words(figures: Figures, r: Remedy) -> str:
    """One remedy: the change, what it mends, what it costs, and how sure that is."""
    return f"{remedy_in_short(figures, r)} {sure_words(r)}"


def mended_words(season: Season, before: Plan, taken: Remedy) -> str:
    """What was taken of a plan's remedies, and what its plan mends of what was short before."""
    return f"Taken: {remedy_in_short(Figures(season, before), taken)}"


def remedy_in_short(figures: Figures, r: Remedy) -> str:
    """One remedy: the change, what it mends and what it costs."""
    short = sum(s.packs for s in figures.plan.shortfalls)
    firm = f" ({r.mended_firm:,} of firm orders)" if r.mended_firm > 0 else ""
    firm = f" (but {-r.mended_firm:,} more of firm orders are short)" if r.mended_firm < 0 else firm
    mends = f"mends {r.mended:,} of {count(short, 'pack')}{firm}"
    if r.mended <= 0:
        mends = "mends no pack in number, but weightier orders before others"
    note = f" ({'; '.join(r.notes)})" if r.notes else ""
    return f"{capital(_changes(r))}{note}: {mends}, {price_words(figures, r)}."


def _changes(r: Remedy) -> str:
    """What is changed; of two opened days the kitchen is named once."""
    if set(r.kinds) == {"open day"}:
        said, days = r.changes[0].partition(" on ")[0], [c.partition(" on ")[2] for c in r.changes]
        return f"{said} on {listed(days)}"
    return listed(r.changes)


def price_words(figures: Figures, r: Remedy) -> str:
    """What a remedy costs beside the plan."""
    currency = figures.season.kitchen.currency
    if not r.extra_cents:
        told = "at the same cost"
    elif r.extra_cents < 0:
        told = f"and costs {money(-r.extra_cents, currency)} less"
    else:
        told = f"for {money(r.extra_cents, currency)} more"
    if not r.priced:
        return f"{told}, beside something that has no price yet"
    if r.extra_cents > 0 and r.mended > 0:
        return f"{told}, {money((2 * r.extra_cents + r.mended) // (2 * r.mended), currency)} a pack"
    return told


def sure_words(r: Remedy) -> str:
    """Whether the gain is proven or only found."""
    if not r.keys:
        return "It asks nothing of anybody."
    if r.proven:
        return "Proven: without it no plan can be so little short."
    if r.anyway is None:
        return "Found: some of this might be had without it."
    return f"Found: with nothing changed, only planned for longer, {count(r.anyway, 'pack')} could be had as well."
