"""A certificate as sentences that can be checked with a pencil: what is needed, what there is, the difference."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.answers.certificate import Certificate, Part, Use
from scheduler.paper.words import capital, count, day_short, length, listed
from scheduler.season.types import Season

MOST_NAMED = 8  # orders, designs or weeks named one by one


def sentences(season: Season, certificate: Certificate) -> list[str]:
    """The sum in three to five sentences."""
    c = certificate
    if c.kind == "no day in the window":
        return [_no_day(season, c), _result(c)]
    if not c.there:
        return [_who(c), _never(season, c), _result(c)]
    return [s for s in (_who(c), _needs(c), _there(c), _difference(c), _result(c)) if s]


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
        "pours a day": "how many batches can be poured a day",
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
    return length(-(-value // 60) if c.unit == "seconds" else value)


def _who(c: Certificate) -> str:
    names = [i.line for i in c.inside]
    if len(names) > MOST_NAMED:
        short = [i.line for i in c.inside if i.short]
        named = listed(short[:MOST_NAMED]) + (f" and {len(short) - MOST_NAMED} more" if len(short) > MOST_NAMED else "")
        who = f"{count(len(names), 'order')}, short among them {named}"
    else:
        who = f"order {names[0]}" if len(names) == 1 else f"orders {listed(names)}"
    if c.first == c.last:
        return f"Candy for {who} can be made only on {day_short(c.first)}."
    return f"Candy for {who} can be made only from {day_short(c.first)} to {day_short(c.last)}."


def _needs(c: Certificate) -> str:
    rows = [u for u in c.uses if u.to_make]
    stock = sum(u.on_hand for u in c.uses)
    after = f" beyond the {count(stock, 'piece')} in stock" if stock else ""
    if len(rows) > MOST_NAMED:
        pieces = sum(u.to_make for u in rows)
        return f"They take {count(pieces, 'piece')} of {len(rows)} designs{after}: {amount(c, c.needed)}."
    return f"They take{after} {'; '.join(_row(c, u) for u in rows)}: {amount(c, c.needed)} in all."


def _row(c: Certificate, u: Use) -> str:
    if c.kind == "packing minutes":
        return f"{count(u.count, 'pack')} of {u.name} at {u.each} s"
    made = f"{u.to_make:,} {u.name}"
    if c.kind == "people's hours":
        return f"{made} at {u.each // 60} min {u.each % 60:02d} s for a hundred, packed"
    if c.unit == "batches":
        return f"{made}, {count(u.count, 'batch', 'batches')} of {u.size}"
    each = f"{u.each} pulls" if c.unit == "pulls" else f"{u.each} min"
    return f"{made}, {count(u.count, 'batch', 'batches')} of {u.size} at {each}"


def _there(c: Certificate) -> str:
    parts = c.parts
    parts_text = _by_week(c, parts) if len(parts) > MOST_NAMED else "; ".join(_part(c, p) for p in parts)
    return (
        f"There is room for {amount(c, c.there)}: {parts_text}."
        if c.unit == "batches"
        else f"There are {amount(c, c.there)}: {parts_text}."
    )


def _part(c: Certificate, p: Part) -> str:
    who = "" if len({x.who for x in c.parts}) == 1 else f"{p.who} "
    days = day_short(p.first) if p.days == 1 else f"{p.days} days from {day_short(p.first)}"
    capped = p.week_limit is not None and p.by_day > p.amount
    held = f" (the week's limit; the days would give {amount(c, p.by_day)})" if capped else ""
    return f"{who}{days}, {amount(c, p.amount)}{held}"


def _by_week(c: Certificate, parts: Sequence[Part]) -> str:
    """Many parts: added up by who gives them, or by week where one gives all."""
    by_who: dict[str, int] = {}
    for p in parts:
        by_who[p.who] = by_who.get(p.who, 0) + p.amount
    if len(by_who) == 1:
        days = sum(p.days for p in parts)
        return f"{days} days in {count(len(parts), 'week')}"
    return "; ".join(f"{who} {amount(c, value)}" for who, value in by_who.items())


def _difference(c: Certificate) -> str:
    text = f"{amount(c, c.needed)} less {amount(c, c.there)} leaves {amount(c, c.missing)} that nobody has."
    reasons = {
        "pours a day": " Two batches can't be closer: one has to leave a place before the next can have it.",
        "people at once": " Two batches can't be closer: some stages together need more people than are in.",
        "shows": " The batches at the shows are poured at their hours, and the others fit before and after.",
    }
    return text + reasons.get(c.kind, "")


def _never(season: Season, c: Certificate) -> str:
    if c.kind == "supplies":
        days = []
        for u in c.uses:
            design = season.design_by_name.get(u.name)
            if design is not None and design.from_day is not None:
                days.append(f"{u.name} can't be made before {day_short(design.from_day)}")
        return capital(f"{listed(days)}, when its supplies are there.")
    return f"On these days there is nothing of {limit_words(season, c)}."


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
    return f"For {who} there is no day on which the candy can be made and still be packed in time."


def _result(c: Certificate) -> str:
    proven, short = c.pieces_short, c.short_in_plan
    if proven >= short:
        return (
            f"So {count(short, 'piece')} stay unmade in every plan: exactly what this plan leaves out of these orders."
        )
    return (
        f"So at least {count(proven, 'piece')} stay unmade in every plan. "
        f"This plan leaves out {short:,} of these orders: the sum explains {100 * proven // max(1, short)} % of it."
    )
