"""Somebody leaves a day that has begun: who finishes it, who closes down, and what is said where nobody can."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook
from scheduler.answers.facts import Moment, as_planned
from scheduler.answers.rebalance import Rebalance, rebalance
from scheduler.audit import audit
from scheduler.audit.facts import audit_rebalance
from scheduler.cli import app
from scheduler.models.no_plan import Contradiction, NoPlan
from scheduler.models.replan.choices import Ahead
from scheduler.models.replan.today import ways_on
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.paper.changes_words import choices_table
from scheduler.paper.words import day_short
from scheduler.plan.files import read_plan, write_plan
from scheduler.plan.types import DayPlan, Plan, Task
from scheduler.season.read import read_season
from scheduler.season.types import Absence, MadeBatch, Season
from scheduler.season.write import write_season
from scheduler.take import take_choice
from tests.handmade import handmade_plan, handmade_season
from tests.seasons import small_random
from typer.testing import CliRunner

DEMO = Path(__file__).parents[2]


@cache
def kitchen(seed: int) -> tuple[Season, Plan]:
    """A small kitchen where two people close down for 30 minutes, and its plan."""
    season = small_random(seed)
    season = replace(season, kitchen=replace(season.kitchen, closing_people=2, closing_minutes=30))
    return season, plan_season(season, PlanOptions(effort=0.3))


def first_day(plan: Plan) -> DayPlan:
    return next(d for d in plan.days if d.batches)


def left_with(seed: int, keep: int, minute: int) -> tuple[Season, Plan, Moment, list[Absence]]:
    """All but so many of those who are in go home ill at a minute after the first batch's end; nobody else can come."""
    season, plan = kitchen(seed)
    day = first_day(plan)
    now = day.batches[0].ends + minute
    here = [s.person for s in day.shifts if s.starts < now < s.ends]
    ill = [Absence(name, day.day, day.day, now) for name in here[keep:]]
    off = [Absence(p.name, day.day, day.day) for p in season.crew if p.name not in here]
    return season, plan, Moment(day.day, now), ill + off


def today(found: Rebalance) -> DayPlan:
    return next(d for d in found.choices[0].plan.days if d.day == found.now.day)


def closings(day: DayPlan) -> list[Task]:
    return [t for t in day.tasks if t.kind == "closing"]


def sound(found: Rebalance) -> None:
    assert found.choices
    for choice in found.choices:
        assert audit(choice.season, choice.plan) == ()
        assert audit_rebalance(found.before, choice.season, choice.plan, (found.now.day, found.now.minute)) == ()


def test_who_is_left_closes_down_alone() -> None:
    """Closing of 30 minutes by two, one is left: 60 minutes by that one, and the choice says so."""
    found = rebalance(*left_with(1, 1, 1))
    sound(found)
    (closing,) = closings(today(found))
    assert (closing.ends - closing.starts, len(closing.people)) == (60, 1)
    assert f"{closing.people[0]} closes down alone" in choices_table(found, "GBP")


def test_closing_by_few_is_refused_where_nobody_had_to_leave() -> None:
    """The same plan breaks the rule without the absence, with a minute less, or with somebody else in."""
    found = rebalance(*left_with(1, 1, 1))
    choice, day = found.choices[0], today(found)
    (closing,) = closings(day)

    def broken(season: Season, shorter: int = 0, people: tuple[str, ...] = closing.people) -> set[str]:
        task = replace(closing, ends=closing.ends - shorter, people=people)
        changed = replace(day, tasks=tuple(task if t is closing else t for t in day.tasks))
        days = tuple(changed if d is day else d for d in choice.plan.days)
        return {v.rule for v in audit(season, replace(choice.plan, days=days))}

    assert broken(choice.season) == set()
    assert "closing duty" in broken(choice.season, shorter=1)
    assert "closing duty" in broken(choice.season, people=())
    assert "closing duty" in broken(replace(choice.season, absences=()))


def test_where_nobody_is_left_the_closing_is_left_undone_and_named() -> None:
    """All go home ill after the first batch: it stays made, and somebody must close down before the next."""
    found = rebalance(*left_with(1, 0, 1))
    sound(found)
    assert today(found).batches
    assert closings(today(found)) == []
    assert "Nobody is left to close down today" in choices_table(found, "GBP")


@pytest.mark.parametrize("seed", [2, 3, 5])
def test_where_others_can_be_asked_in_too_all_ways_are_sound(seed: int) -> None:
    """One is left with a batch on the table: that one alone, or with others who come in and close down by two."""
    season, plan, now, away = left_with(seed, 1, -5)
    sound(rebalance(season, plan, now, [a for a in away if a.starts]))


def test_a_batch_that_nobody_can_finish_is_lost() -> None:
    """All go home ill while it is on the table: it failed, and says why."""
    found = rebalance(*left_with(1, 0, -5))
    sound(found)
    (lost,) = [m for m in found.choices[0].season.made if m.outcome == "failed"]
    assert "lost: " in lost.remark


def test_a_day_that_nobody_can_finish_by_the_rules_is_named_with_what_to_do() -> None:
    """One is left and closing alone takes until after the kitchen closes; what is advised then works."""
    season, plan, now, away = left_with(7, 1, 1)
    tomorrow = now.day + timedelta(1)
    with pytest.raises(NoPlan, match=rf"close down \(30 minutes by 2\).* rebalance from tomorrow: --now {tomorrow}"):
        rebalance(season, plan, now, away)
    sound(rebalance(season, plan, Moment(tomorrow), away))


def test_a_batch_that_fails_after_a_clean_takes_no_other_with_it() -> None:
    """The clean before it was done; whether the batches that follow need one or not, all of them go on as planned."""
    season = read_season(DEMO / "inputs" / "spring")
    plan = read_plan(DEMO / "reports" / "spring" / "plan.json")
    tried = 0
    for day in plan.days:
        for clean in [t for t in day.tasks if t.kind == "clean"]:
            next_one = (clean.station, clean.ends)
            failed = [b for b in day.batches if any((r.station, r.starts) == next_one for r in b.runs)]
            if not failed or tried == 3 or not any(b.pour > clean.ends for b in day.batches):
                continue
            tried += 1
            now = Moment(day.day, clean.ends + 1)
            told = replace(season, made=(MadeBatch(day.day, failed[0].id, failed[0].design, "failed"),))
            ahead = Ahead(as_planned(told, plan, now), plan, day.day, now.minute)
            rest = {t: d for t, d in ahead.before.items() if t > ahead.index}
            for way in ways_on(ahead.facts, day, rest, now.minute):
                assert {b.id for b in way.day.batches} == {b.id for b in day.batches} - {failed[0].id}
                assert way.lost == ()
    assert tried  # how many there are depends on the plan


@pytest.mark.parametrize("all_of_them", [True, False])
def test_a_table_that_failed_batches_left_dirty_is_named(all_of_them: bool, tmp_path: Path) -> None:
    """The day's only batches that ask for a clean-down failed: none is planned, so it is said. One of two: it is.

    It stands on What changed and on the day's run sheet, too, which is to be printed again.
    """
    season = read_season(DEMO / "inputs" / "spring")
    plan = read_plan(DEMO / "reports" / "spring" / "plan.json")
    day, clean, dirty = next(
        (day, cleans[0], batches)
        for day in reversed(plan.days)
        if (cleans := [t for t in day.tasks if t.station == "table" and "end of day" in t.note])
        and len(batches := [b for b in day.batches if cleans[0].note == f"{b.design}, end of day"]) > 1
    )
    failed = dirty if all_of_them else dirty[-1:]
    told = replace(season, made=tuple(MadeBatch(day.day, b.id, b.design, "failed") for b in failed))
    began = max(run.starts for run in dirty[-1].runs if run.station == clean.station)
    found = rebalance(told, plan, Moment(day.day, began + 1))
    words = f"Clean the {clean.station} as well, which is not planned: "
    assert (words in choices_table(found, "GBP")) is all_of_them
    assert found.choices[0].proven  # what became of today is no choice
    if all_of_them:
        write_season(told, tmp_path / "told")
        taken = take_choice(found, 1, tmp_path / "told", "taken", tmp_path / "taken")
        book = load_workbook(taken.workbook_file)
        names = ("What changed", f"Day {day.day}")
        sheets = [[str(c.value) for row in book[name].iter_rows() for c in row] for name in names]
        assert all(any(said.startswith(words) for said in cells) for cells in sheets)
        assert any("Print again" in said and day_short(day.day) in said for said in sheets[0])
        assert not {b.id for b in failed} & set(sheets[1])


def test_one_person_left_before_the_day_begins() -> None:
    """Nobody else can be in: the day's batches are dropped or moved, and the plan is sound."""
    season, plan = kitchen(1)
    day = first_day(plan)
    away = [Absence(p.name, day.day, day.day) for p in season.crew if p.name != day.shifts[0].person]
    found = rebalance(season, plan, Moment(day.day), away)
    sound(found)
    assert all(not d.batches for c in found.choices for d in c.plan.days if d.day == day.day)


def test_too_little_time_is_said_and_writes_nothing(tmp_path: Path) -> None:
    """Exit code 5, one sentence, no file more than before."""
    season, plan = kitchen(1)
    write_season(season, tmp_path / "season")
    write_plan(plan, tmp_path / "plan" / "plan.json")
    day, before = first_day(plan), sorted(tmp_path.rglob("*"))
    ill = f"{day.shifts[0].person}:{day.day}"
    news = ["rebalance", tmp_path / "season", tmp_path / "plan", "--now", day.day, "--out-sick", ill]
    words = [*news, "--seconds", "0.01", "--take", "1", "--out", tmp_path / "new"]  # building the model takes longer
    ended = CliRunner().invoke(app, [str(w) for w in words])
    assert ended.exit_code == 5
    assert "No plan was ready in the time given; give it more, or leave --seconds and --effort out." in ended.output
    assert sorted(tmp_path.rglob("*")) == before


ROWS = {
    "made": ["2026-03-02,0302-1,lemon,made,870,40,", "2026-03-02,0302-2,heart,failed,,,"],
    "packed": ["2026-03-03,lemon jar,25,"],
    "shipped": ["2026-03-04,O1,10,"],
    "absences": ["Ben,2026-03-05,2026-03-05,,,"],
    "orders": ["W-9,lemon jar,5,2026-03-05,,,,,,,,,"],
}
COMMANDS = (
    ("--made", "0302-1=870+40", "--packed", "2026-03-03 lemon jar=25", "--shipped", "2026-03-04 O1=10"),
    ("--failed", "0302-2", "--away", "Ben:2026-03-05", "--order", "W-9 lemon jar=5 due 2026-03-05", "--cancel", "O2"),
)


def test_rows_typed_into_the_tables_mean_what_the_command_means(tmp_path: Path) -> None:
    """Made, failed, packed, shipped, away, ordered and cancelled: typed as rows, and told by command: equal seasons.

    That the blanks of a run sheet mean the same is tested in ``test_record``.
    """
    typed, told = tmp_path / "typed", tmp_path / "told"
    for folder in (typed, told):
        write_season(handmade_season(), folder)
    for name, lines in ROWS.items():
        table = typed / f"{name}.csv"
        text = table.read_text(encoding="utf-8-sig").rstrip("\n")
        text = text.replace("May and Jo,firm,2,yes,,,0.00,no,no", "May and Jo,firm,2,yes,,,0.00,no,yes")
        table.write_text("\n".join([text, *lines]) + "\n", encoding="utf-8-sig")
    write_plan(handmade_plan(), tmp_path / "plan.json")
    for words in COMMANDS:
        ended = CliRunner().invoke(app, ["record", str(told), str(tmp_path / "plan.json"), *words])
        assert ended.exit_code == 0, ended.output
    assert read_season(typed) == read_season(told)
    assert read_season(told).order_by_id["O2"].cancelled


def test_a_pin_that_nobody_can_keep_is_named_not_the_closing_of_a_day_that_is_over() -> None:
    """The demo: Best Mum is pinned to 16 February, and Marta, who alone can make it, falls ill the evening before."""
    season, plan = read_season(DEMO / "inputs" / "spring"), read_plan(DEMO / "reports" / "spring" / "plan.json")
    tuesday = season.days[1]
    with pytest.raises(Contradiction, match=r'The pin "make Best Mum on 2027-02-16" can\'t hold: .* take the pin out'):
        rebalance(season, plan, Moment(season.days[0], 18 * 60), [Absence("Marta", tuesday, tuesday)])
