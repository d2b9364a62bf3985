"""What is worth most of all batches that a day holds in a row, one pour after the other: a dynamic programme.

Two batches that follow each other stand so far apart that no station with a single place has both at once, and that
it can be cleaned between them. People are left out, and so is what lies two batches apart: what this row can't hold,
no crew can. It takes milliseconds for all days of a season, where the day without names, with cleaning, takes a tenth
of a second for each and proves the same on seven of eight days of 13 weeks at prices at random (measured). Knapsack
with distances, after Bellman (1957).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from itertools import pairwise, product
from math import gcd

import numpy as np
import numpy.typing as npt
from scheduler.season import rules
from scheduler.season.types import Design, Season

Visit = tuple[str, int, int]  # a station with a single place, from and to a minute after the start of the batch
Span = tuple[int, int, int]  # a day's first start, last start, last end of a batch
Floats = npt.NDArray[np.float64]
NOT = -1e15  # worth of what can't be


class PourSequences:
    """``kinds``: designs that are one to such a row; ``apart``: minutes from a start of one kind to the next one's.

    ``tells``: whether anything follows of it: nothing where two batches may start at once.
    """

    def __init__(self, season: Season) -> None:
        self.season = season
        alike: dict[object, list[Design]] = {}
        for design in season.designs:
            if recipe := rules.recipe(season, design):
                alike.setdefault((recipe, rules.cleaned_alike(design)), []).append(design)
        one_of = [designs[0] for designs in alike.values()]
        self.kinds = [tuple(d.name for d in designs) for designs in alike.values()]
        self.kind_of = {name: k for k, names in enumerate(self.kinds) for name in names}
        self.takes = [rules.shortest_length(rules.recipe(season, d)) for d in one_of]
        self.apart = _distances(season, one_of)
        self.tells = bool(self.kinds) and min(map(min, self.apart)) > 0

    def span(self, day: date) -> Span | None:
        """Between which minutes batches may start and end; None where none may."""
        work, kitchen = rules.work_hours(self.season, day), self.season.kitchen
        if work is None:
            return None
        starts = rules.start_minutes(self.season, day, work[0], kitchen.last_pour)
        return (starts[0], starts[-1], work[1]) if starts else None

    def most(self, days: Sequence[date], worth: Sequence[Mapping[str, float]]) -> list[tuple[float, dict[str, int]]]:
        """For each day the most that a row of batches is worth, and these; ``worth`` of a batch by design and day.

        Of kinds the design that is worth most; nothing is worth less than none. Example: a kettle that takes 45
        minutes, starts from 8:20 to 9:50: three batches.
        """
        out: list[tuple[float, dict[str, int]]] = [(0.0, {}) for _ in days]
        if not self.tells:
            return out
        dearest = [[max(names, key=lambda n: some.get(n, 0.0)) for names in self.kinds] for some in worth]
        values = np.array([[some.get(n, 0.0) for n in names] for some, names in zip(worth, dearest, strict=True)])
        alike: dict[Span, list[int]] = {}
        for i, day in enumerate(days):
            if (span := self.span(day)) is not None:
                alike.setdefault(span, []).append(i)
        for span, here in alike.items():
            for i, (value, kinds) in zip(here, self._rows(span, np.maximum(values[here], 0.0)), strict=True):
                batches: dict[str, int] = {}
                for k in kinds:
                    batches[dearest[i][k]] = batches.get(dearest[i][k], 0) + 1
                out[i] = value, batches
        return out

    def _rows(self, span: Span, values: Floats) -> Iterator[tuple[float, list[int]]]:
        """The best row of each of some days with the same hours: its worth, and the kinds in it.

        best[day, kind, step]: the most that a row is worth whose last batch is of a kind and starts by then.
        """
        first, last, ends = span
        latest = np.array([min(last, ends - takes) - first for takes in self.takes])
        step = gcd(*(int(n) for n in np.ravel(self.apart)), *(int(n) for n in latest if n > 0))
        apart, latest = np.array(self.apart) // step, latest // step
        steps, kinds = max(1, int(latest.max()) + 1), np.arange(len(self.kinds))
        best = np.full((len(values), len(kinds), steps), NOT)
        when = np.zeros(best.shape, int)  # the start of that batch
        before = np.full(best.shape, -1)  # the kind of the one before it, if it starts there
        for t in range(steps):
            at = t - apart  # the step by which the one before, by row, has started for this one, by column
            after = np.where(at >= 0, best[:, kinds[:, None], np.maximum(at, 0)], NOT)
            kind = after.argmax(axis=1)
            most = np.take_along_axis(after, kind[:, None, :], axis=1)[:, 0]
            before[:, :, t] = np.where(most > 0, kind, -1)
            now = np.where(latest >= t, np.maximum(most, 0.0) + values, NOT)
            was = best[:, :, t - 1] if t else np.full(now.shape, NOT)
            best[:, :, t] = np.maximum(now, was)
            when[:, :, t] = np.where(now > was, t, when[:, :, t - 1] if t else 0)
        for day in range(len(values)):
            k = int(best[day, :, -1].argmax())
            value, row, t = float(best[day, k, -1]), list[int](), steps - 1
            while value > 0 and k >= 0:
                row.append(k)
                t = int(when[day, k, t])
                k, t = int(before[day, k, t]), t - int(apart[before[day, k, t], k])
            yield max(0.0, value), row


def _distances(season: Season, designs: Sequence[Design]) -> list[list[int]]:
    """Least minutes from the start of a batch to that of the next one, by their numbers."""
    visits = [list(_visits(season, design)) for design in designs]
    single = sorted({station for some in visits for station, _, _ in some})
    cleans = {station: _cleaning(season, station, designs, visits) for station in single}
    return [
        [_distance(one, other, {s: (m[a][b], m[b][a]) for s, m in cleans.items()}) for b, other in enumerate(visits)]
        for a, one in enumerate(visits)
    ]


def _visits(season: Season, design: Design) -> Iterator[Visit]:
    """When a batch is at stations with a single place, as long as that is certain from its start on."""
    at = 0
    for number, need in enumerate(rules.recipe(season, design)):
        if number and need.wait_from != need.wait_to:
            return
        at += need.wait_from if number else 0
        if season.places.get(need.station) == 1:
            yield need.station, at, at + need.minutes
        at += need.minutes


def _cleaning(
    season: Season, station: str, designs: Sequence[Design], visits: Sequence[Sequence[Visit]]
) -> list[list[int]]:
    """Minutes between batches at a station, by their numbers: to clean it, or less where others come between them."""
    least = rules.cleaning_minutes(season, station, designs)
    stays = [min((end - start for s, start, end in some if s == station), default=None) for some in visits]
    for c, a, b in product(range(len(designs)), repeat=3):
        if (stay := stays[c]) is not None:
            least[a][b] = min(least[a][b], least[a][c] + stay + least[c][b])
    return least


def _distance(one: Sequence[Visit], other: Sequence[Visit], cleans: Mapping[str, tuple[int, int]]) -> int:
    """The least minutes from the start of one batch after which another may start: no station has both at once."""
    apart = 0
    while not all(_fit(one, [(s, a + apart, b + apart) for s, a, b in other], s, cleans[s]) for s in cleans):
        apart += 1
    return apart


def _fit(one: Sequence[Visit], other: Sequence[Visit], station: str, clean: tuple[int, int]) -> bool:
    """Whether two batches' visits at a station are apart, with cleaning from one to the other and back."""
    there = sorted((a, b, n) for n, visits in enumerate((one, other)) for s, a, b in visits if s == station)
    return all(start - end >= (0 if n == m else clean[n]) for (_, end, n), (start, _, m) in pairwise(there))
