"""What would mend a shortage: a setting that a sum points at, and the command that works out changes with prices."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from scheduler.answers import limits, work
from scheduler.answers.certificate import Certificate
from scheduler.paper.words import clock, day_short, length
from scheduler.season.rules import shows_on
from scheduler.season.types import Season

ASK = (
    "What would mend it, and for what price: run rockrota explain SEASON PLAN --remedies (SEASON: your season's "
    "workbook or folder; PLAN: the folder of this plan)."
)
TAKE = "To take one: run rockrota mend SEASON PLAN --take NUMBER. It writes the season with that change, and its plan."


@dataclass(frozen=True, slots=True)
class Later:
    """A last start ``minutes`` later, and the days of the window on which one batch more fits then."""

    minutes: int
    fits: tuple[int, ...]
    others: tuple[int, ...]  # days on which batches are made, too


def later_start(season: Season, certificate: Certificate) -> Later | None:
    """The least by which the last start is to be later for one batch more on the fullest day; None for no help.

    Days are counted with all shows held and by who can be in. Example: an hour apart from 8:50, last start 12:45:
    5 minutes; with a show at 10:00, and so from 9:00 on, 5 minutes help nothing.
    """
    c = certificate
    if c.kind not in ("pours a day", "people at once") or not c.there:
        return None
    designs = [season.design_by_name[u.name] for u in c.uses]
    days = range(season.index(c.first), season.index(c.last) + 1)
    here = {t: work.here_on(season, t) if c.kind == "people at once" else None for t in days}
    pours = {t: work.pours_a_day(season, designs, t, here[t]) for t in days}
    fullest = max(days, key=lambda t: (pours[t], -t))
    minutes = work.later_start(season, designs, fullest, here[fullest])
    if minutes is None:
        return None
    eased = replace(season, kitchen=replace(season.kitchen, last_pour=season.kitchen.last_pour + minutes))
    some = [t for t in days if pours[t]]
    now, then = (limits.shows(s, designs, some, frozenset()).amounts["the kitchen"] for s in (season, eased))
    fits = tuple(t for t in some if then[t] > now[t])
    return Later(minutes, fits, tuple(t for t in some if t not in fits)) if fits else None


def cure(season: Season, certificate: Certificate) -> str:
    """The later last start in words; blank where that is no help."""
    later = later_start(season, certificate)
    if later is None:
        return ""
    last, days = season.kitchen.last_pour, len(later.fits) + len(later.others)
    on = f"on {len(later.fits)} of the {days} days"
    if not later.others:
        on = f"on each of the {days} days" if days > 1 else f"on {day_short(season.days[later.fits[0]])}"
    shows = sum(bool(shows_on(season, season.days[t])) for t in later.others)
    if shows:
        rest = f"the other{'s' if len(later.others) > 1 else ''}"
        on += f" (a show keeps its hour on {rest if shows == len(later.others) else f'{shows} of {rest}'})"
    return (
        f"The last start, {clock(last)}, is your own setting in the table kitchen: at {clock(last + later.minutes)}, "
        f"{length(later.minutes)} later, one batch more fits {on}."
    )


def cures(season: Season, certificates: Iterable[Certificate]) -> list[str]:
    """The cures of all sums, each once."""
    return list(dict.fromkeys(filter(None, (cure(season, c) for c in certificates))))
