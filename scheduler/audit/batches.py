"""Rules about the batches of one day: recipe, places, roles, supplies."""

from __future__ import annotations

from collections import defaultdict

from scheduler.audit.readings import Reading, Step
from scheduler.audit.violation import Findings, Violation, clock, span
from scheduler.plan.types import Batch, DayPlan, StageRun
from scheduler.season.types import Design


def recipe(r: Reading, day: DayPlan) -> Findings:
    """Every stage once, in order, at its station, for its minutes, within its waits.

    starts[i + 1] - ends[i] in [wait_from, wait_to]. Example: cut may wait 10; rolled to
    09:35, cut at 09:46 breaks it.
    """
    for batch in day.batches:
        where = f"{day.day} batch {batch.id}"
        steps = r.recipe(batch.design)
        if steps is None:
            yield Violation("recipe", where, f"There is no design {batch.design!r}.")
            continue
        planned, wanted = [run.stage for run in batch.runs], [step.stage for step in steps]
        if planned != wanted or not planned:
            runs, takes = ", ".join(planned) or "nothing", ", ".join(wanted) or "nothing"
            what = f"It runs {runs}; a {batch.design} takes {takes}."
            yield Violation("recipe", where, what)
            continue
        before: StageRun | None = None
        for run, step in zip(batch.runs, steps, strict=True):
            yield from _stage(where, run, step, before)
            before = run


def _stage(where: str, run: StageRun, step: Step, before: StageRun | None) -> Findings:
    if run.station != step.station:
        yield Violation("recipe", where, f"{run.stage} is at {run.station!r} instead of {step.station}.")
    if run.ends - run.starts != step.minutes:
        what = f"{run.stage} is given {run.ends - run.starts} minutes; it takes {step.minutes}."
        yield Violation("recipe", where, what)
    if before is not None and not step.wait_from <= run.starts - before.ends <= step.wait_to:
        what = (
            f"{run.stage} starts {run.starts - before.ends} minutes after {before.stage}; "
            f"it must be {step.wait_from} to {step.wait_to}."
        )
        yield Violation("recipe", where, what)


def station_places(r: Reading, day: DayPlan) -> Findings:
    """Place numbers are 1 to the station's places, and nothing overlaps on one place."""
    taken: dict[tuple[str, int], list[tuple[int, int, str]]] = defaultdict(list)
    for batch in day.batches:
        for run in batch.runs:
            taken[run.station, run.place].append((run.starts, run.ends, f"{run.stage} of batch {batch.id}"))
    for task in day.tasks:
        if task.kind == "clean":
            taken[task.station, task.place].append((task.starts, task.ends, "a clean"))
    for pack in day.packing:
        taken[r.kitchen.packing_station, pack.place].append((pack.starts, pack.ends, f"packing of {pack.product}"))
    for (station, place), things in sorted(taken.items()):
        where = f"{day.day} {station} place {place}"
        places = r.season.places.get(station, 0)
        if not 1 <= place <= places:
            yield Violation("station places", where, f"{things[0][2]} is here; {station!r} has {places} places.")
        for first, second in overlaps(things):
            what = f"{first[2]} ({span(*first[:2])}) and {second[2]} ({span(*second[:2])}) overlap."
            yield Violation("station places", where, what)


def overlaps(things: list[tuple[int, int, str]]) -> list[tuple[tuple[int, int, str], tuple[int, int, str]]]:
    """Pairs of intervals that overlap, each with the longest-lasting one before it."""
    pairs = []
    last: tuple[int, int, str] | None = None
    for thing in sorted(things):
        if last is not None and thing[0] < last[1] and thing[1] > thing[0]:
            pairs.append((last, thing))
        if last is None or thing[1] > last[1]:
            last = thing
    return pairs


def role_filled(r: Reading, day: DayPlan) -> Findings:
    """Each role of each run has exactly its number of different people, each with skill and level."""
    for batch in day.batches:
        steps = {step.stage: step for step in r.recipe(batch.design) or ()}
        design = r.season.design_by_name.get(batch.design)
        for run in batch.runs:
            if design is not None and run.stage in steps:
                yield from _run_filled(r, f"{day.day} batch {batch.id} {run.stage}", run, steps[run.stage], design)


def _run_filled(r: Reading, where: str, run: StageRun, step: Step, design: Design) -> Findings:
    names = [person for _, person in run.crew]
    for person in sorted({n for n in names if names.count(n) > 1}):
        yield Violation("role filled", where, f"{person} is named twice in one run.")
    for person in sorted(set(names) - set(r.season.person_by_name)):
        yield Violation("role filled", where, f"There is nobody called {person!r} in the crew.")
    for role_name in sorted({role for role, _ in run.crew} - {role.name for role in step.roles}):
        yield Violation("role filled", where, f"{run.stage} has no role {role_name!r}.")
    for role in step.roles:
        people = {person for name, person in run.crew if name == role.name}
        if len(people) != role.people:
            yield Violation("role filled", where, f"{role.name} has {len(people)} people; it needs {role.people}.")
        needed = r.level_needed(role, design)
        for person in sorted(people):
            level = r.level(person, role.skill) if role.skill else 0
            if role.skill and (level < needed or level == 0):
                what = f"{person} has level {level} in {role.skill}; {role.name} needs {needed} for a {design.name}."
                yield Violation("role filled", where, what)


def leader_stays(r: Reading, day: DayPlan) -> Findings:
    """One and the same person fills all leading roles of a batch; where the leader fell ill, from then on."""
    for batch in day.batches:
        leaders = _leaders(r, batch, r.facts_until(day.day))
        if len(leaders) > 1:
            what = f"{' and '.join(sorted(leaders))} lead it; one person must lead it through."
            yield Violation("leader stays", f"{day.day} batch {batch.id}", what)


def _leaders(r: Reading, batch: Batch, until: int) -> set[str]:
    leading = {(step.stage, role.name) for step in r.recipe(batch.design) or () for role in step.roles if role.leads}
    to_come = [run for run in batch.runs if run.ends > until]
    return {person for run in to_come for role, person in run.crew if (run.stage, role) in leading}


def young_worker(r: Reading, day: DayPlan) -> Findings:
    """Nobody young fills a hot role."""
    for batch in day.batches:
        hot = {(s.stage, role.name) for s in r.recipe(batch.design) or () for role in s.roles if role.hot}
        for run in batch.runs:
            for role, name in run.crew:
                person = r.season.person_by_name.get(name)
                if person is not None and person.young and (run.stage, role) in hot:
                    what = f"{name} is a young worker and is {role} at {clock(run.starts)}, which is hot work."
                    yield Violation("young worker", f"{day.day} batch {batch.id} {run.stage}", what)


def supplies(r: Reading, day: DayPlan) -> Findings:
    """No batch of a design before the day from which it can be made."""
    for batch in day.batches:
        design = r.season.design_by_name.get(batch.design)
        if design is not None and design.from_day is not None and day.day < design.from_day:
            what = f"A {design.name} can be made from {design.from_day}; it is planned on {day.day}."
            yield Violation("supplies", f"{day.day} batch {batch.id}", what)
