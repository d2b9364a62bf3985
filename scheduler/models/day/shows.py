"""Shows in the day model: a fitting batch whose stage starts at the minute, and the extra hands."""

from __future__ import annotations

from ortools.sat.python import cp_model
from scheduler.models.day.people import add_task
from scheduler.models.day.work import Day
from scheduler.season.rules import begins, fits_show, shows_on
from scheduler.season.types import Show


def add_shows(day: Day) -> None:
    """`show`: at each show exactly one fitting batch has its stage started, with extra hands, or it is missed.

    For each show: sum over fitting batches of there + missed = 1; there means that the batch starts at
    ``begins``. Example: last start 14:30, a show of the first stage at 15:00: it can only be missed. House rule.
    """
    shows = shows_on(day.season, day.request.day)
    for s, show in enumerate(shows):
        missed = day.missed[s] = day.model.new_bool_var(f"misses {show.name}")
        if show.name in day.request.held:
            day.model.add(missed == 0)
        picks = []
        for b, batch in enumerate(day.batches):
            if fits_show(batch.design, show):
                there = batch.shows[s] = day.model.new_bool_var(f"show {s} {b}")
                day.model.add(batch.pour == begins(day.season, show)).only_enforce_if(there)
                picks.append(there)
        day.model.add(sum(picks) + missed == 1)
        if show.extra_people > 0 and show.extra_minutes > 0:
            if show.starts < day.opens or show.starts + show.extra_minutes > day.closes:
                day.model.add(missed == 1)
            held = 1 - missed
            add_task(day, "show", show.starts, show.extra_minutes, show.extra_people, show.extra_skill, held, show.name)
    _alone_at_the_minute(day, shows)


def _alone_at_the_minute(day: Day, shows: tuple[Show, ...]) -> None:
    """A batch is at one show at most, and no other batch starts when a show's does."""
    for batch in day.batches:
        if batch.shows:
            day.model.add_at_most_one(batch.shows.values())
    starts = [begins(day.season, show) for show in shows]
    for minute in sorted(set(starts)):
        these = [s for s, start in enumerate(starts) if start == minute]
        elsewhere = cp_model.Domain(0, 2000).intersection_with(cp_model.Domain(minute, minute).complement())
        for batch in day.batches:
            there = [batch.shows[s] for s in these if s in batch.shows]
            apart = day.model.new_bool_var("")
            day.model.add_linear_expression_in_domain(batch.pour, elsewhere).only_enforce_if(apart)
            day.model.add_bool_or([apart, *there, *(day.missed[s] for s in these)])
