"""A first sketch of a season, a heuristic at the root node: the relaxation with slack in its hours, taken as a plan.

Counts of batches alone, by HiGHS, in a second or two; who comes in and what is packed when follows. Its days
are fitted to the minute as any others. Measured: on seasons of six weeks it is often as good as hours of swapping.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from ortools.math_opt.python import mathopt
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.board import Wish
from scheduler.models.counts.relaxation import SeasonRelaxation
from scheduler.models.facts import Facts
from scheduler.models.search.thumb import ROOM_PERCENT, call_everyone

AIR_PERCENT = 160  # hours for each hour of batch work: the rest is waiting and packing (measured, not proven)
CLOSE = 0.001  # share of what is asked for within which a sketch is good enough
WHOLE = 1e-6


def sketch(facts: Facts, limits: DayLimits, missed: int | None) -> Wish | None:
    """Counts that miss at most so many of the shows that can be held (None: no matter); None where none is found."""
    relaxation = SeasonRelaxation(facts, limits, missed)
    relaxation.build()
    add_slack(relaxation)
    if not keep_pins(relaxation):
        return None
    gap = CLOSE * facts.demand.weight
    params = mathopt.SolveParameters(node_limit=1, absolute_gap_tolerance=gap, relative_gap_tolerance=WHOLE)
    result = mathopt.solve(relaxation.model, mathopt.SolverType.HIGHS, params=params)
    if not result.has_primal_feasible_solution():
        return None
    return wish_of(relaxation, {variable.id: value for variable, value in result.variable_values().items()})


def add_slack(relaxation: SeasonRelaxation, more: int = 0) -> None:
    """No more batches a day than usually fit, or so many ``more``, and slack in the hours that their work takes."""
    facts = relaxation.facts
    for t in facts.days:
        today = {d: variable for (d, day), variable in relaxation.make.items() if day == t}
        if today:
            work = mathopt.fast_sum(facts.minutes_of(d) * variable for d, variable in today.items())
            hours = sum(facts.work_of(s.longest) for s in facts.hands[t].values())
            usual = relaxation.limits.usual(t) + more
            relaxation.model.add_linear_constraint(mathopt.fast_sum(today.values()) <= usual)
            relaxation.model.add_linear_constraint(AIR_PERCENT * work <= 100 * hours)


def keep_pins(relaxation: SeasonRelaxation) -> bool:
    """At least the batches that pins ask for; False where the relaxation knows nothing of one of them."""
    asked = {key: count for key, count in relaxation.facts.pinned.items() if key[1] in relaxation.facts.hands}
    for key in sorted(asked.keys() & relaxation.make.keys()):
        relaxation.model.add_linear_constraint(relaxation.make[key] >= asked[key])
    return asked.keys() <= relaxation.make.keys()


def wish_of(relaxation: SeasonRelaxation, values: Mapping[int, float]) -> Wish:
    """Batches as counted; packing as late as it may be; everyone called in; shows where there are batches for them."""
    facts, batches = relaxation.facts, defaultdict[int, list[str]](list)
    for (design, t), variable in relaxation.make.items():
        batches[t] += [design] * round(values[variable.id])
    packs: dict[bool, Counter[str]] = {False: Counter(), True: Counter()}
    for (line, late), variable in relaxation.fill.items():
        packs[late][line] = int(values[variable.id] + WHOLE)
    made = {t: tuple(sorted(names)) for t, names in sorted(batches.items()) if names}
    packing = _late_packing(facts, packs[False], packs[True], made)
    people = call_everyone(facts, sorted({*made, *packing}))
    held = {t: shows for t in facts.shows if (shows := held_with(facts, t, made.get(t, ())))}
    return Wish(made, packing, people, held, packs[False], packs[True])


def held_with(facts: Facts, t: int, designs: Sequence[str]) -> frozenset[str]:
    """The shows that a day with these batches holds: all, where there are batches for them."""
    shows = facts.shows.get(t, ())
    return frozenset(s.name for s in shows) if len(designs) >= len(shows) else frozenset()


def _late_packing(
    facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int], batches: Mapping[int, tuple[str, ...]]
) -> dict[int, tuple[tuple[str, int], ...]]:
    """Each line's packs on the latest days with time beside the batches, lines with the latest candy first.

    What finds no time is left out: on a day that is full it would cost batches.
    """
    room = {t: _spare_seconds(facts, t, batches.get(t, ())) for t in facts.days}
    packing: dict[int, Counter[str]] = defaultdict(Counter)
    for first, last, product, packs in sorted(_jobs(facts, in_time, late), reverse=True):
        each = facts.season.product_by_name[product].packing_seconds
        for t in reversed([t for t in facts.days if first <= t <= last]):
            count = min(packs, max(0, room[t]) // each if each else packs)
            if count > 0:
                packing[t][product] += count
                room[t] -= count * each
                packs -= count
    return {t: tuple(sorted(packs.items())) for t, packs in sorted(packing.items())}


def _spare_seconds(facts: Facts, t: int, designs: tuple[str, ...]) -> int:
    """Three quarters of the hours of everyone in, as the rule of thumb has it, less the batches and duties."""
    hours = sum(facts.work_of(s.longest) for s in facts.hands[t].values()) * ROOM_PERCENT // 100
    work = sum(facts.minutes_of(d) for d in designs)
    duties = sum(p * m for p, m in facts.duties()) if designs else 0
    return 60 * (hours - work - duties)


def _jobs(facts: Facts, in_time: Mapping[str, int], late: Mapping[str, int]) -> list[tuple[int, int, str, int]]:
    """(first day, last day, product, packs) of what is to be packed."""
    lead = facts.season.kitchen.packing_from_days
    jobs = []
    for line in facts.demand.lines:
        first = max((w.first for w in line.windows), default=0) + lead
        if in_time.get(line.id):
            jobs.append((first, line.pack_by, line.product, in_time[line.id]))
        if line.late is not None and late.get(line.id):
            first = max((w.first for w in line.late.windows), default=0) + lead
            jobs.append((max(first, line.due + 1), line.late.pack_by, line.product, late[line.id]))
    return jobs
