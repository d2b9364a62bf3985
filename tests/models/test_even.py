"""Pulling shared out more evenly: who pulls changes, nothing else does."""

from __future__ import annotations

from typing import Any

import pytest
from scheduler.audit import audit_day
from scheduler.models.search.even import evened
from scheduler.models.search.loop import PlanOptions, facts_of
from scheduler.plan.summary import pulls_by_person
from scheduler.plan.types import Batch, DayPlan, Shift, StageRun, Task
from scheduler.season.types import Design, Person, Pin, Role, Season, Skill
from tests.handmade import OPENS, day, paper


def kitchen(**changes: Any) -> Season:
    """Ada and Ben: every batch takes half an hour of a puller, who pulls 50, and of a helper."""
    usual: dict[str, Any] = {
        "roles": (Role("build", "puller", pulls=True), Role("build", "helper")),
        "designs": (Design("Kite", 1, 10, 30, pull_loads=1, pulls_per_load=50), Design("Moon", 1, 10, 30)),
        "crew": tuple(Person(p, 2400, 2400, 1, pulls_day=500, pulls_week=1000) for p in ("Ada", "Ben")),
    }
    return paper(**(usual | changes))


def four_batches(gap: int = 0, tasks: tuple[Task, ...] = (), count: int = 4) -> DayPlan:
    """Ada pulls all four (or so many), Ben helps."""
    length = 30 + gap
    batches = tuple(
        Batch(
            f"B{k}", "Kite",
            (StageRun("build", "bench", 1, OPENS + length * k, OPENS + length * k + 30,
                      (("puller", "Ada"), ("helper", "Ben"))),),
        )
        for k in range(count)
    )  # fmt: skip
    return DayPlan(day(0), batches, tasks, (), tuple(Shift(n, OPENS, OPENS + count * length) for n in ("Ada", "Ben")))


def pulled(season: Season, before: DayPlan) -> dict[str, int]:
    """Pulls by person afterwards; no rule is broken and only the crews have changed."""
    facts = facts_of(season, PlanOptions())
    (after,) = evened(facts, (before,))
    assert audit_day(season, after) == ()
    assert (after.shifts, after.tasks, after.packing) == (before.shifts, before.tasks, before.packing)
    assert [b.id for b in after.batches] == [b.id for b in before.batches]
    assert evened(facts, (after,)) == (after,)  # nothing is left to do
    assert evened(facts, (before,), until=0.0) == (before,)  # no time
    return pulls_by_person(season, after)


def test_two_pull_as_much_as_each_other() -> None:
    """Four batches of 50 pulls: two for Ada and two for Ben, who change places."""
    assert pulled(kitchen(), four_batches()) == {"Ada": 100, "Ben": 100}


def test_changing_places_for_nothing_comes_to_an_end() -> None:
    """Five batches: 150 and 100; with 670 a week 100 / 670 + 50 / 670 is less than 150 / 670 by a rounding."""
    crew = tuple(Person(p, 2400, 2400, 1, pulls_day=500, pulls_week=670) for p in ("Ada", "Ben"))
    assert sorted(pulled(kitchen(crew=crew), four_batches(count=5)).values()) == [100, 150]


def test_shares_count_not_pulls() -> None:
    """Who may pull 500 a week gets half of what somebody gets who may pull 1,000: 50 and 150."""
    crew = (Person("Ada", 2400, 2400, 1, pulls_day=500, pulls_week=1000),
            Person("Ben", 2400, 2400, 1, pulls_day=500, pulls_week=500))  # fmt: skip
    assert pulled(kitchen(crew=crew), four_batches()) == {"Ada": 150, "Ben": 50}


def test_rest_between_pulls_is_kept() -> None:
    """With 40 minutes of rest between pulls 10 minutes apart, two batches apart is what each can do."""
    season = kitchen(pull_rest_minutes=40)
    before = four_batches(gap=10)
    alternate = tuple(
        b if k % 2 else Batch(b.id, b.design, (StageRun(*_run(b), (("puller", "Ben"), ("helper", "Ada"))),))
        for k, b in enumerate(before.batches)
    )
    assert pulled(season, DayPlan(before.day, alternate, (), (), before.shifts)) == {"Ada": 100, "Ben": 100}


def _run(batch: Batch) -> tuple[str, str, int, int, int]:
    run = batch.runs[0]
    return run.stage, run.station, run.place, run.starts, run.ends


@pytest.mark.parametrize(
    "changes",
    [
        {"pins": (Pin("not in role", person="Ben", role="puller"),)},
        {"roles": (Role("build", "puller", pulls=True, skill="hands", level=1), Role("build", "helper")),
         "skills": (Skill("Ada", "hands", 1),)},
        {"crew": (Person("Ada", 2400, 2400, 1, pulls_day=500, pulls_week=1000),
                  Person("Ben", 2400, 2400, 1, pulls_day=40, pulls_week=1000))},
    ],
    ids=["pinned", "unskilled", "little strength"],
)  # fmt: skip
def test_who_may_not_pull_does_not(changes: dict[str, Any]) -> None:
    """A pin, a missing skill and the pulls of a day each keep Ben away."""
    assert pulled(kitchen(**changes), four_batches()) == {"Ada": 200}


def test_whoever_leads_a_batch_leads_all_of_it() -> None:
    """`leader stays`: the role that pulls leads; both change places for whole batches."""
    roles = (Role("build", "puller", pulls=True, leads=True), Role("build", "helper"))
    assert pulled(kitchen(roles=roles), four_batches()) == {"Ada": 100, "Ben": 100}
