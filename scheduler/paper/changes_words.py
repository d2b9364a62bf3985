"""Choices and changes on the terminal, in words and columns that fit a narrow window."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from scheduler.answers.changes import ChangeRow, designs_of, rows, to_print
from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Choice, Rebalance
from scheduler.paper.words import clock, count, day_short, listed, money
from scheduler.plan.changes import PersonChange
from scheduler.season.types import AS_PLANNED, Order, Season

MOST = 6  # orders named in a choice
POINTS = (
    "Points tell how much people feel it: 4 for somebody called in or sent home, 2 for a batch put on a day or taken\n"
    "off it, 1 for other hours, new jobs or more packing; 8 times today, 4 times tomorrow, twice within a week."
)


def choice_title(choice: Choice) -> str:
    """A choice in one line. Example: "1 called in or sent home, 2 batches move, nothing more is short"."""
    changes = choice.changes
    parts = []
    if not changes:
        parts.append("nothing changes")
    else:
        calls = changes.calls
        parts.append(f"{calls} called in or sent home" if calls else "nobody is called in or sent home")
        hours = sum(p.other_hours and not p.absent for p in changes.people)
        parts += [f"{count(hours, 'shift')} with other hours"] if hours else []
        on, off = sum(len(d.put_on) for d in changes.days), sum(len(d.taken_off) for d in changes.days)
        moved = min(on, off)
        parts += [f"{count(moved, 'batch moves', 'batches move')}"] if moved else []
        parts += [f"{count(off - moved, 'batch', 'batches')} dropped"] if off > moved else []
        parts += [f"{count(on - moved, 'batch', 'batches')} more"] if on > moved else []
    lost, won = choice.lost_packs, choice.lost_packs - choice.more_short_packs
    parts += [f"{count(lost, 'pack')} more short"] if lost else []
    parts += [f"{count(won, 'pack')} fewer short{' for others' if lost else ''}"] if won else []
    parts += [] if lost or won else ["nothing more is short"]
    return ", ".join(parts)


def choices_table(found: Rebalance, currency: str) -> str:
    """All choices with changes, shortfall and cost, and how sure it is that nothing beats them."""
    if not found.news:
        return "No news: the plan stays exactly as it is."
    lines = [f"From {found.now} on; everything before stays.", *_within(found), ""]
    to_mind = [list(minds(choice, found)) for choice in found.choices]
    first, *rest = to_mind
    always = [line for line in first if rest and all(line in more for more in rest)]
    for number, (choice, mine) in enumerate(zip(found.choices, to_mind, strict=True), 1):
        sure = _sure(choice, found.begun)
        cost = choice.cost_cents
        paid = "the same pay" if cost == 0 else f"{money(abs(cost), currency)} {'more' if cost > 0 else 'less'} pay"
        lines.append(f"{number}. {choice_title(choice)}.")
        lines.append(f"   {count(choice.short_packs, 'pack')} short in all; {paid}; "
                     f"{count(choice.points, 'point')} of change ({sure}).")  # fmt: skip
        own = (line for line in mine if line not in always)
        said = (*_what(choice), *own, *_more_short(choice), *_more_late(choice, found), why(number, found))
        lines += [f"   {line}" for line in said if line]
    lines += ["", "Whichever you take:", *(f"   {line}" for line in always)] if always else []
    lines += ["", others(found), "", POINTS, "Take one with --take and its number."]
    return "\n".join(lines)


def _within(found: Rebalance) -> Iterator[str]:
    """Which days may change, where that are not all from now on."""
    if found.shown is not None and found.shown.within is not None:
        first, last = map(day_short, found.shown.within)
        yield f"In a season as long as this, days from {first} to {last} may change; all others stay as they are."


def _sure(choice: Choice, begun: bool) -> str:
    """How sure it is that nothing changes less."""
    if not choice.least_points and choice.points:
        return "not proven: a plan with fewer changes may exist"
    return f"proven: {'with today as it is here, ' if begun else ''}" + (
        "nothing with as little short changes less" if choice.proven else f"less than {choice.least_points} can't do it"
    )


def why(number: int, found: Rebalance) -> str:
    """What speaks for a choice (by number) that changes more than another and has as many packs short; else nothing."""
    choice = found.choices[number - 1]
    fewer = [(n, c) for n, c in enumerate(found.choices[: number - 1], 1) if c.short_packs <= choice.short_packs]
    if not fewer:
        return ""
    other, than = fewer[0]
    shows, promised = _missed(than) - _missed(choice), _promised(than) - _promised(choice)
    if shows > 0:
        return f"What speaks for it: {count(shows, 'show')} more held than in {other}."
    if promised > 0:
        return f"What speaks for it: {count(promised, 'pack')} fewer of confirmed orders short than in {other}."
    return (
        f"What speaks for it: what is short weighs less than in {other} (by kind and priority of the order and by the "
        "pieces in a pack)."
    )


def _missed(choice: Choice) -> int:
    return sum(len(day.missed_shows) for day in choice.plan.days)


def _promised(choice: Choice) -> int:
    """Packs of confirmed orders that are short."""
    confirmed = {o.id for o in choice.season.orders if o.confirmed}
    return sum(s.packs for s in choice.plan.shortfalls if s.line in confirmed)


def others(found: Rebalance) -> str:
    """Whether any other plan is worth looking at, in one sentence: proven, or only that none was found."""
    one = len(found.choices) == 1
    if found.complete:
        none = found.choices[0].lost_packs <= 0
        return "No other plan is worth showing: " + (
            "any other is beaten or matched by one of these in both changes and what is short" if not one
            else "this one changes least, and leaves nothing more short" if none
            else "this one changes least, and no change would leave less short"
        ) + f" (proven{', with today going on as it does here' if found.begun else ''})."  # fmt: skip
    return (
        f"No other plan worth showing was found{'' if one else ' between these'}; that there is none is not proven. "
        f"With more of both (--effort {3 * found.effort:g} --seconds {60 * found.effort:g}) it looks longer."
    )


def minds(choice: Choice, found: Rebalance) -> Iterator[str]:
    """What is to be minded today with a choice: who closes down, what is to be cleaned."""
    yield from _closing(choice, found)
    yield from _cleaning(choice, found)


def _later(choice: Choice, found: Rebalance) -> list[tuple[Order, int]]:
    """Orders of which more packs come after the due day than before, and how many more; the first due first."""
    late = Counter[str]()
    for plan, sign in ((choice.plan, 1), (found.before, -1)):
        for fill in plan.fills:
            late[fill.line] += sign * fill.packs * fill.late
    return sorted(
        ((o, late[o.id]) for o in choice.season.orders if late[o.id] > 0), key=lambda one: (one[0].due, one[0].id)
    )


def _more_late(choice: Choice, found: Rebalance) -> Iterator[str]:
    """What comes after its due day now and did not before."""
    if later := _later(choice, found):
        named = ", ".join(f"{order.id} {order.product} {packs:,}" for order, packs in later[:MOST])
        rest = f" and {count(len(later) - MOST, 'other')}" if len(later) > MOST else ""
        yield f"Later than the due day: {count(sum(packs for _, packs in later), 'pack')} ({named}{rest})."


def _what(choice: Choice) -> Iterator[str]:
    """Who is to be asked, and which batches go where."""
    people = choice.changes.people
    asked = [f"{p.person} on {_when(p)}" for p in people if p.before is None]
    home = [f"{p.person} on {day_short(p.day)}" for p in people if p.after is None and not p.absent]
    other = [f"{p.person} on {_when(p)}" for p in people if p.other_hours and not p.absent]
    for words, names in (("Ask to come in", asked), ("Not needed", home), ("Other hours", other)):
        if names:
            yield f"{words}: {listed(names)}."
    days = choice.changes.days
    off = [f"{day_short(d.day)} {listed(designs_of(d.taken_off))}" for d in days if d.taken_off]
    on = [f"{day_short(d.day)} {listed(designs_of(d.put_on))}" for d in days if d.put_on]
    for words, moved in (("Not made", off), ("Made as well", on)):
        if moved:
            yield f"{words}: {'; '.join(moved)}."


def _when(change: PersonChange) -> str:
    """The day, and from when to when."""
    assert change.after is not None
    return f"{day_short(change.day)} {clock(change.after.starts)}–{clock(change.after.ends)}"


def _more_short(choice: Choice) -> Iterator[str]:
    """Whose packs are short now, orders before forecasts."""
    worse, season = dict(choice.lost), choice.season
    orders = [(o.id, o.product) for o in season.orders if o.id in worse]
    forecasts = [(f.id, f.product) for f in season.forecasts if f.id in worse]
    parts = []
    for words, lines in (("orders", orders), ("forecasts", forecasts)):
        if lines:
            packs = sum(worse[line] for line, _ in lines)
            named = ", ".join(f"{line} {product} {worse[line]}" for line, product in lines[:MOST])
            rest = f" and {count(len(lines) - MOST, 'other')}" if len(lines) > MOST else ""
            parts.append(f"{count(packs, 'pack')} of {words} ({named}{rest})")
    if parts:
        yield f"More short: {'; '.join(parts)}."


def _closing(choice: Choice, found: Rebalance) -> Iterator[str]:
    """Who closes down where somebody had to leave: fewer than usual, or nobody."""
    kitchen = found.season.kitchen
    today = next((d for d in choice.plan.days if d.day == found.now.day), None)
    if today is None or not found.begun or not today.batches or not kitchen.closing_minutes * kitchen.closing_people:
        return
    closing = next((t for t in today.tasks if t.kind == "closing"), None)
    if closing is None:
        yield "Nobody is left to close down today: it must be done before the next batch."
    elif len(closing.people) < kitchen.closing_people:
        yield (
            f"{listed(closing.people)} close{'s' if len(closing.people) == 1 else ''} down "
            f"{'alone, ' if len(closing.people) == 1 else ''}{clock(closing.starts)} to {clock(closing.ends)}."
        )


def _cleaning(choice: Choice, found: Rebalance) -> Iterator[str]:
    """Stations left dirty by a batch of today that failed, where no clean is planned any more."""
    season, now = choice.season, found.now
    failed = {m.batch for m in season.made if m.outcome == "failed" and m.day == now.day}
    before, after = (next((d for d in plan.days if d.day == now.day), None) for plan in (found.before, choice.plan))
    cleaned = {c.station for c in season.changeovers}
    clean = [t for t in after.tasks if t.kind == "clean"] if after is not None else []
    dirty = {
        (r.station, batch.id)
        for batch in (before.batches if before is not None else ()) if batch.id in failed
        for r in batch.runs if r.station in cleaned and r.starts < now.minute
        and not any((t.station, t.place) == (r.station, r.place) and t.starts >= r.starts for t in clean)
    }  # fmt: skip
    for station in sorted({station for station, _ in dirty}):
        names = listed(sorted(name for where, name in dirty if where == station))
        yield f"Clean the {station} as well, which is not planned: {names} failed on it."


def changes_table(choice: Choice, after: Rebalance) -> str:
    """Before and after, by day and person, what to mind, then whom to call and what to print again."""
    found, mind = rows(choice.changes), list(minds(choice, after))
    lines = _columns(found) if found else ["Nothing changes."]
    lines += ["", *mind] if mind else []
    calls = [r.say for r in found if r.say]
    if calls:
        lines += ["", "To say on the phone:", *(f"  {say}" for say in calls)]
    lines += _customers(choice, after)
    if again := to_print(choice.changes, after.now.day if mind else None):
        lines += ["", f"Print again the run sheets of {listed(map(day_short, again))}."]
    return "\n".join(lines)


def _customers(choice: Choice, found: Rebalance) -> list[str]:
    """Whose orders have more short, or late, than before: whom to call, the first due first."""
    worse, short, later = dict(choice.lost), choice.plan.short_packs, {o.id: n for o, n in _later(choice, found)}
    out = []
    for o in sorted((o for o in choice.season.orders if o.id in worse or o.id in later), key=lambda o: (o.due, o.id)):
        said = []
        if o.id in worse:
            more = f", {worse[o.id]:,} more than before" if worse[o.id] < short[o.id] else ""
            said.append(f"{short[o.id]:,} of {o.packs:,} {o.product} can't be ready{more}")
        if o.id in later:
            ready = max(f.packed for f in choice.plan.fills if f.line == o.id and f.late and f.packed is not None)
            said.append(f"{later[o.id]:,} {o.product} come later than the due day, the last on {day_short(ready)}")
        told = ". We have confirmed this order" if o.confirmed else ""
        who = f"{o.customer or 'whoever ordered it'}, {o.id}, due {day_short(o.due)}"
        out.append(f"  {who}: {'; '.join(said)}{told}.")
    return ["", "Customers to call:", *out] if out else []


def as_it_was_planned(season: Season, now: Moment) -> str:
    """What a plan takes for granted of the time before now, as nobody recorded it; "" where all was recorded."""
    rows = (("batch", "batches", season.made), ("packing", "packings", season.packed),
            ("delivery", "deliveries", season.shipped))  # fmt: skip
    parts = [
        count(n, one, more) for one, more, facts in rows if (n := sum(fact.remark == AS_PLANNED for fact in facts))
    ]
    if not parts:
        return ""
    return (
        f"Up to {now} nobody recorded {listed(parts)}: they count as they were planned. Where it went otherwise, "
        "rockrota record puts it right; then rebalance again."
    )


def _columns(found: Sequence[ChangeRow]) -> list[str]:
    """Rows under one another; the two texts under each other where they are long."""
    who = max(len(r.who) for r in found)
    lines = []
    day = ""
    for row in found:
        shown = day_short(row.day)
        lines.append(f"{shown if shown != day else '':<10} {row.who:<{who}}  {row.before}  ->  {row.after}")
        day = shown
    return lines


def summary(found: Rebalance) -> dict[str, object]:
    """The choices as one JSON object: what ``--json`` prints."""
    return {
        "now": f"{found.now.day.isoformat()}T{clock(found.now.minute)}",
        "news": found.news,
        "complete": found.complete,
        "others": others(found) if found.news else "",
        "may_change": [day.isoformat() for day in found.shown.within or ()] if found.shown else [],
        "choices": [
            {
                "number": number,
                "title": choice_title(choice),
                "points": choice.points,
                "least_points": choice.least_points,
                "proven": choice.proven,
                "short_packs": choice.short_packs,
                "more_short_packs": choice.more_short_packs,
                "short_weighted": choice.short,
                "labour_cost_change": choice.cost_cents / 100,
                "called_in_or_sent_home": choice.changes.calls,
                "why": why(number, found),
                "days_changed": [d.day.isoformat() for d in choice.changes.days],
            }
            for number, choice in enumerate(found.choices, 1)
        ],
    }
