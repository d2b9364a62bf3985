"""A certificate as sentences that can be checked with a pencil: what is needed, what there is, the difference."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from scheduler.answers import work
from scheduler.answers.certificate import Certificate, Use
from scheduler.answers.sums import best_filling, left_out
from scheduler.paper.words import capital, clock, count, day_short, length, listed
from scheduler.season.types import Design, Season

MOST_NAMED = 8  # orders or weeks named one by one
MOST_ROWS = 30  # designs, or sizes of batches, written out: without them nobody can add up
NEVER = {  # what there is nothing of, in words
    "pours a day": "no batch can be started",
    "people at once": "too few people are in for a batch",
    "shows": "no batch fits beside the shows",
    "pulls": "nobody may pull",
    "packing minutes": "there is no time for packing",
    "people's hours": "nobody has an hour left",
}


def sentences(season: Season, certificate: Certificate) -> list[str]:
    """The sum in three to seven sentences."""
    c = certificate
    if c.kind == "no day in the window":
        return [_no_day(season, c), _result(c)]
    if not c.there:
        return [_who(season, c), _never(season, c), _result(c)]
    told = (_who(season, c), _needs(c), _there(c), _a_day(season, c), _difference(season, c), _pieces(c), _result(c))
    return [s for s in told if s]


def heading(season: Season, certificate: Certificate) -> str:
    """The limit and the window in one line."""
    c = certificate
    return f"{capital(limit_words(season, c))}, {window(c)}"


def window(certificate: Certificate) -> str:
    """The days of the window in words."""
    first, last = certificate.first, certificate.last
    return day_short(first) if first == last else f"{day_short(first)} to {day_short(last)}"


def limit_words(season: Season, certificate: Certificate) -> str:
    """Which limit it is, in words."""
    c = certificate
    if c.kind == "station minutes":
        places = season.places.get(c.what, 1)
        return f"the {c.what} ({count(places, 'place')})"
    if c.kind == "leaders":
        return f"who can lead {_skill(c)}: {_named(c.people)}"
    if c.kind == "people able":
        return f"who can do {_skill(c)}: {_named(c.people)}"
    if c.kind == "packing minutes":
        return f"packing at the {c.what}" if c.what and not c.people else "packing time"
    return {
        "no day in the window": "no day on which it could be made",
        "supplies": "supplies that come too late",
        "pours a day": "how many batches can be started a day",
        "people's hours": "everyone's hours together",
        "pulls": "pulls",
        "people at once": "how many people a batch needs at once",
        "shows": "batches a day beside the shows",
    }[c.kind]


def _skill(c: Certificate) -> str:
    skill, _, level = c.what.rpartition(" ")
    if not skill:
        return "this work"
    return f"{skill} of level {level}" if level == "5" else f"{skill} of level {level} and above"


def _named(names: Sequence[str]) -> str:
    return listed(names) if names else "nobody"


def amount(c: Certificate, value: int) -> str:
    """An amount in the limit's unit."""
    if c.unit == "batches":
        return count(value, "batch", "batches")
    if c.unit == "pulls":
        return count(value, "pull")
    return _seconds(value) if c.unit == "seconds" else length(value)


def _seconds(value: int) -> str:
    """90 is 1 min 30 s, 7,200 is 2 h, 33,040 is 9 h 10 min 40 s: nothing is rounded, so that sums add up."""
    minutes, rest = divmod(value, 60)
    if not rest:
        return length(minutes)
    words = f"{length(minutes)} min" if minutes > 60 and minutes % 60 else length(minutes) if minutes else ""
    return f"{words} {rest} s".strip()


def _who(season: Season, c: Certificate) -> str:
    """Who asks for candy that only the window's days can give, orders apart from forecasts."""
    days = f"only on {day_short(c.first)}" if c.first == c.last else f"only from {window(c)}"
    if len(c.inside) <= MOST_NAMED:
        return f"Candy for {whose(season, [i.line for i in c.inside])} can be made {days}."
    orders = sum(i.line in season.order_by_id for i in c.inside)
    counted = ((orders, "order"), (len(c.inside) - orders, "forecast"))
    who = listed(count(n, word) for n, word in counted if n)
    short = [i.line for i in c.inside if i.short]
    more = f", and {len(short) - MOST_NAMED} more" if len(short) > MOST_NAMED else ""
    return f"Candy for {who} can be made {days}. Short among them: {whose(season, short[:MOST_NAMED])}{more}."


def whose(season: Season, lines: Sequence[str]) -> str:
    """Orders and forecasts by name. Example: order W1, the forecasts F2 and F3."""
    orders = [line for line in lines if line in season.order_by_id]
    rest = [line for line in lines if line not in season.order_by_id]
    parts = []
    if orders:
        parts.append(f"order{'s' if len(orders) > 1 else ''} {listed(orders)}")
    if rest:
        parts.append(f"the forecast{'s' if len(rest) > 1 else ''} {listed(rest)}")
    return ", ".join(parts)


def _needs(c: Certificate) -> str:
    rows = [u for u in c.uses if u.to_make]
    ready = sum(i.shelf for i in c.inside)
    they = f"Beside {count(ready, 'pack')} that stand ready they take" if ready else "They take"
    if len(rows) > MOST_ROWS:
        pieces = sum(u.to_make for u in rows)
        return f"{they} {count(pieces, 'piece')} of {len(rows)} designs, stock left out: {amount(c, c.needed)}."
    total = f": {amount(c, c.needed)} in all" if len(rows) > 1 or c.unit != "batches" else ""
    return f"{they} {'; '.join(_row(c, u) for u in rows)}{total}."


def _row(c: Certificate, u: Use) -> str:
    if c.kind == "packing minutes":
        return f"{count(u.count, 'pack')} of {u.name} at {_seconds(u.each)}"
    stock = f" (of {u.wanted:,}, {u.on_hand:,} are in stock)" if u.on_hand else ""
    made = f"{u.to_make:,} {u.name}{stock}"
    if c.kind == "people's hours":
        return f"{made} at {_seconds(u.each)} for a hundred, packed"
    each = {"batches": "", "pulls": f" at {u.each} pulls"}.get(c.unit, f" at {u.each} min")
    return f"{made}, {count(u.count, 'batch', 'batches')} of {u.size}{each}"


def _there(c: Certificate) -> str:
    begin = f"There is room for {amount(c, c.there)}" if c.unit == "batches" else f"There are {amount(c, c.there)}"
    by_who: dict[str, int] = {}
    for p in c.parts:
        by_who[p.who] = by_who.get(p.who, 0) + p.amount
    weeks = _weeks(c)
    if len(weeks) > MOST_NAMED and len(by_who) > 1:
        weeks = [f"{who} {amount(c, value)}" for who, value in by_who.items()]
    return f"{begin}: {'; '.join(weeks)}."


def _weeks(c: Certificate) -> list[str]:
    """What each week gives; weeks in a row that give the same are told once."""
    alone = len({p.who for p in c.parts}) == 1
    out: list[str] = []
    for _, group in groupby(sorted(c.parts, key=lambda p: p.who), lambda p: (p.who, p.days, p.by_day, p.amount)):
        parts = list(group)
        p, who = parts[0], "" if alone else f"{parts[0].who} "
        capped = p.week_limit is not None and p.by_day > p.amount
        held = f" (the week's limit; the days would give {amount(c, p.by_day)})" if capped else ""
        if len(parts) > 1:
            each = "a week" if p.days == 1 else f"in each week of {p.days} days"
            out.append(f"{who}{len(parts)} weeks from {day_short(p.first)}, {amount(c, p.amount)} {each}{held}")
            continue
        days = day_short(p.first) if p.days == 1 else f"{p.days} days from {day_short(p.first)}"
        out.append(f"{who}{days}, {amount(c, p.amount)}{held}")
    return out


def _a_day(season: Season, c: Certificate) -> str:
    """What the fullest day gives, as a sum of clock times, and which days give fewer pours."""
    designs = [season.design_by_name[u.name] for u in c.uses if u.name in season.design_by_name]
    days = range(season.index(c.first), season.index(c.last) + 1)
    if c.kind == "station minutes":
        return _in_use(season, c, designs, days)
    if c.kind not in ("pours a day", "people at once"):
        return ""
    pours = {t: work.pours_a_day(season, designs, t, _here(season, c, t)) for t in days}
    most, t = max(pours.values()), min(t for t in days if pours[t] == max(pours.values()))
    able = [d for d in designs if work.makeable(season, d, t)]
    first, last = work.first_pour(season, t), max(work.last_pour(season, d, t) for d in able)
    apart = work.spacing(season, able, able, _here(season, c, t))
    less = [t for t in days if pours[t] < most and work.first_pour(season, t) is not None]
    fewer = [f"{pours[t] or 'none'} on {day_short(season.days[t])}" for t in less]
    told = f" But {listed(fewer)}." if 0 < len(fewer) <= MOST_NAMED else ""
    return (
        f"So on {day_short(season.days[t])}: first start {clock(first or 0)}, last start {clock(last)}, "
        f"{length(apart)} from one to the next at best, {amount(c, most)}.{told}"
    )


def _in_use(season: Season, c: Certificate, designs: list[Design], days: range) -> str:
    """From when to when a station can be in use at most."""

    def span(t: int) -> tuple[int, int]:
        today = [d for d in designs if work.makeable(season, d, t)]
        return work.reach(season, today, lambda need: need.station == c.what, t) or (0, 0)

    t = max(days, key=lambda t: (span(t)[1] - span(t)[0], -t))
    (start, end), places = span(t), season.places.get(c.what, 1)
    each = f", at each of its {places} places" if places > 1 else ""
    return (
        f"So on {day_short(season.days[t])} it can be in use from {clock(start)} to {clock(end)}{each}: "
        f"{length(places * (end - start))}."
    )


def _here(season: Season, c: Certificate, t: int) -> frozenset[str] | None:
    return work.here_on(season, t) if c.kind == "people at once" else None


def _difference(season: Season, c: Certificate) -> str:
    text = f"{amount(c, c.needed)} less {amount(c, c.there)} leaves {amount(c, c.missing)} too few."
    reasons = {
        "people at once": " Starts can't be closer: some stages together need more people than are in.",
        "shows": " The batches at the shows start at their hours, and the others fit before and after.",
    }
    return text + (_who_keeps(season, c) if c.kind == "pours a day" else reasons.get(c.kind, ""))


def _who_keeps(season: Season, c: Certificate) -> str:
    """Why pours can't be closer: the one station with which a place more would bring them closer together."""
    designs = [season.design_by_name[u.name] for u in c.uses if u.to_make]
    apart = work.spacing(season, designs, designs)

    def eased(station: str) -> bool:
        more = tuple(replace(x, places=x.places + (x.name == station)) for x in season.stations)
        return work.spacing(replace(season, stations=more), designs, designs) < apart

    keeps = [s.name for s in season.stations if eased(s.name)]
    which = f"the {keeps[0]}" if len(keeps) == 1 else "a station"
    return f" Starts can't be closer: one batch has to leave {which} before the next can have it."


def _pieces(c: Certificate) -> str:
    """From what is too little to the pieces that are missing: what is left out, or what there is spent at its best."""
    uses, whole = [u for u in c.uses if u.to_make], c.kind != "people's hours"
    wanted = sum(u.to_make for u in uses)
    if whole and len({u.each for u in uses}) == 1:
        batches = left_out(uses, c.there)
        many, one = sum(times for _, times in batches), "pack" if c.kind == "packing minutes" else "batch"
        sizes = [f"{times} x {pieces:,}" if times > 1 else f"{pieces:,}" for pieces, times in batches]
        if len(sizes) > MOST_ROWS:
            return ""
        enough = ""
        if c.unit != "batches":
            enough = f"It is enough for {count(c.there // max(1, uses[0].each), one, _many(one))}. "
        small = "" if len({size for u in uses for size in _sizes(u)}) == 1 else "smallest "
        which = f"{many} {small}{_many(one)} are" if many > 1 else f"1 {small}{one} is"
        which = f"The {which}" if small else which
        return f"{enough}{which} left out: {' + '.join(sizes)} = {count(c.pieces_short, 'piece')}."
    spent: dict[str, tuple[int, int]] = {}
    for name, pieces, taken in best_filling(uses, c.there, whole):
        before = spent.get(name, (0, 0))
        spent[name] = (before[0] + pieces, before[1] + taken)
    rows = [f"{amount(c, taken)} for {pieces:,} {name}" for name, (pieces, taken) in spent.items() if pieces]
    if not rows or len(rows) > MOST_ROWS:
        return ""
    had = wanted - c.pieces_short
    return f"At its best it gives {'; '.join(rows)}: {had:,} of {count(wanted, 'piece')}, so {c.pieces_short:,} less."


def _sizes(u: Use) -> set[int]:
    return {size for size in (u.size if u.to_make >= u.size else 0, u.to_make % u.size) if size}


def _many(one: str) -> str:
    return "packs" if one == "pack" else "batches"


def _never(season: Season, c: Certificate) -> str:
    if c.kind == "supplies":
        days = []
        for u in c.uses:
            design = season.design_by_name.get(u.name)
            if design is not None and design.from_day is not None:
                days.append(f"{u.name} can't be made before {day_short(design.from_day)}")
        return capital(f"{listed(days)}, when its supplies are there.")
    if c.kind in ("leaders", "people able"):
        return f"On these days nobody is in {limit_words(season, c)}."
    return f"On these days {NEVER.get(c.kind) or f'there is nothing of {limit_words(season, c)}'}."


def _no_day(season: Season, c: Certificate) -> str:
    """Why no day will do: the life that is asked for, or no open day before it must be packed."""
    texts = []
    for row in c.inside:
        order = season.order_by_id.get(row.line)
        least = (
            season.kitchen.least_life_days if order is None or order.least_life_days is None else order.least_life_days
        )
        for use in c.uses:
            keeps = season.design_by_name[use.name].sell_by_days
            if keeps < least + season.kitchen.packing_from_days:
                texts.append(f"{row.line} asks for {least} days of life at delivery, and {use.name} keeps {keeps}")
    if texts:
        return f"{listed(texts[:MOST_NAMED])}: none can be fresh enough."
    who = listed([i.line for i in c.inside[:MOST_NAMED]])
    return f"For {who} there is no day left on which the candy can be made and still be packed in time."


def _result(c: Certificate) -> str:
    proven, short = c.pieces_short, c.short_in_plan
    if proven >= short:
        return f"So {count(short, 'piece')} are missing in every plan: exactly what this plan leaves out."
    return (
        f"So at least {count(proven, 'piece')} are missing in every plan. "
        f"This plan leaves out {short:,} of theirs, {short - proven:,} more than this one sum shows."
    )
