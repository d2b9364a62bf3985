"""Remedies: each figure is that of a fresh plan, pairs where one alone mends nothing, and honest proofs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.answers import onward, remedies
from scheduler.answers.certificates import certify
from scheduler.answers.explain import with_certificates
from scheduler.answers.mending import Change, for_limits, place
from scheduler.answers.remedies import before, candidates, changed, compare, find_remedies, made_real
from scheduler.answers.remedy import Mending, Remedy, ranked, remedies_of, with_remedies, worth_telling
from scheduler.demand.build import build_demand
from scheduler.models.search.finish import finish
from scheduler.models.search.fitted import Fitted
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.solvers.spread import spread
from scheduler.plan.files import plan_from_bytes, plan_text
from scheduler.plan.lots import allocate
from scheduler.plan.types import Plan, Shortfall, StageResult
from scheduler.season.prices import Price
from scheduler.season.types import Availability, Order, Product, Season, Skill, SpecialDay, Stage
from tests.answers.hand import day, kitchen, plan_short


def order(name: str, packs: int, due: int, **more: object) -> Order:
    return Order(name, "Kite jar", packs, day(due), customer=f"Customer {name}", **more)  # type: ignore[arg-type]


def overloaded() -> Season:
    """Three making days of two batches, nine wanted: three are short. One bench, one builder: both bind."""
    base = kitchen(4)
    return replace(base, orders=(order("A", 7, 4), order("B", 2, 3)), skills=(Skill("AA", "building", 1),))


@pytest.fixture(scope="module")
def explained() -> tuple[Season, Plan]:
    season = overloaded()
    return season, with_certificates(season, plan_season(season))


def test_a_second_bench_alone_mends_nothing_but_with_a_second_builder(explained: tuple[Season, Plan]) -> None:
    """Two limits bind at once: among the candidates is the pair that eases both."""
    season, plan = explained
    keys = [tuple(c.key for c in changes) for changes in candidates(season, plan, 6, 4)]
    assert ("place bench",) in keys
    assert any(set(pair) == {"place bench", "train BB building 1"} for pair in keys)


def test_each_figure_is_that_of_a_fresh_plan(explained: tuple[Season, Plan]) -> None:
    """A remedy says what planning the changed season anew says: packs, weight, bound, money."""
    season, plan = explained
    found = find_remedies(season, plan, workers=1, singles=4, pairs=1).remedies
    assert found
    by_key = {tuple(c.key for c in changes): changes for changes in candidates(season, plan, 4, 1)}
    for remedy in found:
        again = plan_season(changed(season, by_key[remedy.keys]), PlanOptions(workers=1))
        stages = {s.name: s for s in again.stages}
        assert (remedy.short_after, remedy.least_after) == (stages["shortfall"].value, stages["shortfall"].bound)
        assert remedy.mended == sum(plan.short_packs.values()) - sum(again.short_packs.values())
        assert remedy.proven == (remedy.short_after < remedy.least_before)


def test_pair_mends_what_neither_does(explained: tuple[Season, Plan]) -> None:
    """Bench and builder together make four batches a day: all nine are ready."""
    season, plan = explained
    found = {r.keys: r for r in find_remedies(season, plan, workers=1, singles=6, pairs=4).remedies}
    pair = next(r for keys, r in found.items() if set(keys) == {"place bench", "train BB building 1"})
    assert (pair.mended, pair.proven, pair.priced) == (3, True, False)
    assert ("place bench",) not in found


def test_what_planning_on_mends_is_told_first_and_taken_off_no_remedy(explained: tuple[Season, Plan]) -> None:
    """Two batches taken out of the plan: planned on with nothing changed they are back, and told beside the rest.

    What a change mends no more than that is no remedy. Where the plan is at its bound nothing of it is said.
    """
    season, plan = explained
    best = find_remedies(season, plan, workers=1, singles=4, pairs=0)
    assert all(r.keys and r.anyway is None for r in best.remedies)
    days = tuple(replace(d, batches=(), packing=(), tasks=(), shifts=()) for d in plan.days[:1]) + plan.days[1:]
    facts, bound = facts_of(season, PlanOptions()), next(s.bound for s in plan.stages if s.name == "shortfall")
    given = allocate(season, facts.demand, days)
    poor = finish(facts, PlanOptions(), Fitted(given.days, given, 0), None, bound or 0)
    found = find_remedies(season, poor, workers=1, singles=4, pairs=0)
    missing = sum(poor.short_packs.values()) - sum(plan.short_packs.values())
    assert missing > 0
    (anyway,) = (r for r in found.remedies if not r.keys)
    assert (anyway.changes, anyway.mended) == ((remedies.NOTHING,), missing)
    assert all(r.anyway == missing and r.gained > anyway.gained for r in found.remedies if r.keys)
    assert (found.tried, found.of) == (best.tried, best.of)
    after, again, mended = made_real(season, poor, anyway)
    assert (after, mended.mended) == (season, missing)
    assert sum(again.short_packs.values()) == sum(plan.short_packs.values())


def test_more_workers_change_nothing(explained: tuple[Season, Plan]) -> None:
    season, plan = explained
    one = find_remedies(season, plan, workers=1, singles=2, pairs=1)
    assert find_remedies(season, plan, workers=2, singles=2, pairs=1) == one


def test_what_its_bound_rules_out_is_not_planned(
    explained: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second bench leaves one builder, two batches a day: its bound is still 6,000, so it is never planned."""
    season, plan = explained
    planned: list[Season] = []

    def watched(after: Season, _care: PlanOptions) -> Plan:
        planned.append(after)
        return plan

    monkeypatch.setattr(onward, "plan_season", watched)
    made = find_remedies(season, plan, workers=1, singles=6, pairs=0)
    assert made.tried == made.of
    assert 0 < len(planned) < made.of
    assert not any(s.places["bench"] == 2 for s in planned)


def test_a_change_that_misses_a_show_is_no_remedy(
    explained: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing short any more, and a show given up for it: that is not mended."""
    season, plan = explained
    for missed, count in ((0, 1), (1, 0)):
        stages = (StageResult("missed shows", "shows", missed, 0, False), StageResult("shortfall", "", 0, 0, True))
        after = replace(plan, shortfalls=(), stages=stages)
        monkeypatch.setattr(remedies, "_plan_again", lambda _job, after=after: (after, True))
        assert len(find_remedies(season, plan, workers=1, singles=1, pairs=0).remedies) == count


def test_prices_of_the_season_are_what_changes_cost(explained: tuple[Season, Plan]) -> None:
    """Named before blank, days and designs multiplied; a helper with a price has no wage; nothing written: no price."""
    base = replace(overloaded(), products=(Product("Kite jar", 700),))
    season = replace(
        base,
        orders=(base.orders[0], replace(base.orders[1], priority=3)),
        prices=(
            Price("further place", 38000, "bench"), Price("further place", 5000), Price("training", 22000),
            Price("extra helper", 11000), Price("later due day", 600, "A"), Price("open day", 4500),
        ),
    )  # fmt: skip
    plan = explained[1]
    packing = replace(
        certify(season, build_demand(season), plan)[0], kind="people able", what="building 1", people=("AA",)
    )

    def cents(season: Season) -> dict[str, int | None]:
        return {c.key: c.price_cents for c in [*for_limits(season, plan, [packing]), place(season, "bench")]}

    found = cents(season)
    assert (found["place bench"], found["train BB building 1"], found["overtime AA"]) == (38000, 22000, 0)
    assert (place(season, "packing bench").price_cents, found["drop B"]) == (5000, 2 * 700)
    helper = next(c for c in for_limits(season, plan, [packing]) if c.kind == "helper")
    assert helper.price_cents == 11000
    assert helper.apply(season).crew[-1].wage_cents == 0
    bare = cents(replace(season, prices=()))
    assert (bare["place bench"], bare["train BB building 1"]) == (None, None)


def test_progress_names_each_remedy(explained: tuple[Season, Plan]) -> None:
    season, plan = explained
    said: list[str] = []
    find_remedies(season, plan, said.append, workers=1, singles=2, pairs=0)
    assert said[0] == "looking for changes that could help"
    assert said[1].startswith("1 of 2: ") and len(said) == 3


def plan_with(season: Season, short: dict[str, int], bound: int, cost: int) -> Plan:
    """A plan in name only with weights: a missing jar weighs 2,000 (firm 10, priority 2, 100 pieces)."""
    plan = plan_short(season, short)
    rows = tuple(Shortfall(line, n, 100 * n, 2000 * n) for line, n in short.items())
    value = sum(s.weighted for s in rows)
    stages = (StageResult("shortfall", "", value, bound, False), StageResult("cost", "", cost, None, False))
    return replace(plan, shortfalls=rows, stages=stages)


def told(season: Season, plan: Plan, after: Plan, change: Change) -> Remedy:
    lines = build_demand(season).lines
    was = before(plan, lines, change.apply(season))
    return compare(plan, was, after, (change,), {n.id for n in lines if n.kind == "firm"})


NOTHING = Change("x", "x", "x", lambda s: s)


@pytest.mark.parametrize(("bound", "proven"), [(4001, True), (4000, False), (0, False), (6000, True)])
def test_a_gain_is_proven_only_below_the_bound_of_the_season_as_it_is(bound: int, proven: bool) -> None:
    """Before 6,000 short with a bound; after 4,000: proven exactly when the bound is above 4,000."""
    season = overloaded()
    base, after = plan_with(season, {"A": 3}, bound, 0), plan_with(season, {"A": 2}, 0, 0)
    assert told(season, base, after, NOTHING).proven is proven


def test_packs_of_a_dropped_order_are_not_mended() -> None:
    """B given up: A's shortage falls from 3 to 1, two mended; the bound is lowered by all that B weighs."""
    season = overloaded()
    given_up = (season.orders[0], replace(season.orders[1], cancelled=True))
    drop = Change("drop B", "dropped order", "B", lambda s: replace(s, orders=given_up))
    base, after = plan_with(season, {"A": 3, "B": 1}, 8000, 0), plan_with(season, {"A": 1}, 0, 0)
    made = told(season, base, after, drop)
    assert (made.mended, made.short_before, made.short_after) == (2, 6000, 2000)
    assert made.least_before == 8000 - 2 * 2000
    assert made.proven


def test_what_stands_ready_for_a_dropped_order_is_in_the_bound_too() -> None:
    """B's 2 jars stand ready: A could have had them with B left out, so A 2 less short is no gain that is proven."""
    season = overloaded()
    lines = tuple(replace(n, packs=0) if n.id == "B" else n for n in build_demand(season).lines)
    given_up = (season.orders[0], replace(season.orders[1], cancelled=True))
    base = plan_with(season, {"A": 3}, 6000, 0)
    assert before(base, lines, replace(season, orders=given_up)).least == 6000 - 2 * 2000


def remedy(key: str, mended: int, cents: int, priced: bool = True) -> Remedy:
    return Remedy((key,), (key,), (), (key,), mended, mended, mended, 10, 0, 10 - mended, 0, False, cents, priced)


def test_ranking_by_packs_for_the_money() -> None:
    """Free of cost first, then packs per cent, then those without a price by packs, then what mends no pack."""
    rows = [
        remedy("weight alone", 0, 0), remedy("weight alone, saves", -1, -90),
        remedy("dear", 5, 1000), remedy("no price", 9, 0, priced=False), remedy("cheap", 2, 100), remedy("free", 1, 0),
        remedy("saves", 3, -50), remedy("no price, less", 2, 10, priced=False),
    ]  # fmt: skip
    told = ["saves", "free", "cheap", "dear", "no price", "no price, less", "weight alone", "weight alone, saves"]
    assert [r.keys[0] for r in ranked(rows)] == told
    assert [r.keys[0] for r in ranked(rows[::-1])] == told


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (remedy("b", 4, 200), remedy("a", 2, 100)),  # the same for the money: more packs first
        (remedy("b", 3, -50), remedy("a", 3, 0)),  # the same packs, nothing more to pay: what saves first
        (remedy("b", 3, 40, priced=False), remedy("a", 3, 60, priced=False)),
        (replace(remedy("b", 2, 100), short_after=1), remedy("a", 2, 100)),  # the weightier orders
        (remedy("a", 2, 100), remedy("b", 2, 100)),  # all the same: always in the same order
    ],
)
def test_ties_are_settled(one: Remedy, other: Remedy) -> None:
    """More packs, less money, more weight, then the name."""
    assert ranked([other, one]) == ranked([one, other]) == (one, other)


def test_a_pair_that_mends_no_more_than_one_of_it_is_left_out() -> None:
    """Two days opened mend what the first mends alone: told once. A pair that mends more stays; so does a part."""
    one, more = remedy("one", 3, 100), replace(remedy("x", 4, 300), keys=("one", "two"))
    same = replace(remedy("x", 3, 300), keys=("one", "three"))
    nothing = replace(remedy("nothing", 0, 0), short_after=10)
    assert worth_telling([one, same, more, nothing]) == [one, more]


def test_changes_are_looked_into_where_no_sum_proves_anything() -> None:
    """No certificate at all: every kind of change that a planner has is among the candidates."""
    base = kitchen(7)
    season = replace(
        base,
        kitchen=replace(base.kitchen, least_life_days=30),
        designs=(replace(base.designs[0], difficulty=5, sell_by_days=33),),
        roles=(replace(base.roles[0], level=5),),
        skills=(Skill("AA", "building", 5), Skill("BB", "building", 4)),
        orders=(order("A", 7, 5, partial=False), order("B", 2, 3, priority=3)),
        special_days=(SpecialDay(day(3), "closed"),),
    )
    plan = plan_short(season, {"A": 1})
    assert {c.kind for c in for_limits(season, plan, [])} == {
        "overtime", "helper", "open day", "training", "station", "earlier start", "last pour", "due day",
        "part delivery", "dropped order", "longer life",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("last", "minutes", "closes", "offered", "step"),
    [
        (535, 60, 660, [5], 1),  # 8:00, and from 9:00 on a second batch; 9:55 gives no third
        (535, 20, 660, [5, 60], 1),  # 8:00, 8:20, 8:40, and 9:00 five minutes later; with an hour 9:20 and 9:40, too
        (535, 60, 598, [60], 1),  # a second batch would not be done when the kitchen closes: an hour, as for any limit
        (470, 60, 660, [60], 1),  # nothing can start at all: with an hour a batch at 8:00
        (535, 57, 660, [2, 60], 1),  # a second batch at 8:57; with an hour a third at 9:54
        (535, 57, 660, [5, 60], 5),  # at 9:00, where the clock goes in steps of five minutes
    ],
)
def test_the_last_start_is_as_little_later_as_one_more_batch_needs(
    last: int, minutes: int, closes: int, offered: list[int], step: int
) -> None:
    base = kitchen(3, closes=closes)
    season = replace(
        base, kitchen=replace(base.kitchen, last_pour=last, clock_step=step),
        stages=(Stage("build", "bench", minutes),),
        orders=(order("A", 9, 3),),
    )  # fmt: skip
    plan = plan_short(season, {"A": 7})
    found = [c for c in for_limits(season, plan, list(certify(season, build_demand(season), plan)))]
    later = [c for c in found if c.kind == "last pour"]
    assert [c.apply(season).kitchen.last_pour - last for c in later] == offered


def test_a_due_day_that_is_past_is_moved_from_today() -> None:
    """Day 3 of 4, A was due on day 1: two days later is day 5, past the end; of six days it is day 5."""
    season = replace(kitchen(6), orders=(order("A", 7, 1),))
    plan = replace(plan_short(season, {"A": 3}), from_day=day(3))
    moved = [c for c in for_limits(season, plan, []) if c.kind == "due day"]
    assert [c.apply(season).orders[0].due for c in moved] == [day(5)]


def test_remedies_survive_the_plan_file() -> None:
    rows = (remedy("a", 1, 5), remedy("b", 2, 7, priced=False))
    plan = with_remedies(plan_short(overloaded(), {"A": 3}), Mending(rows, 2, 2))
    assert remedies_of(plan_from_bytes(plan_text(plan).encode())) == list(rows)


def test_spread_numbers_what_comes() -> None:
    """Each result comes with the number of its item, in whatever order."""
    assert list(spread(abs, [-3, 2, -1], 1)) == [(0, 3), (1, 2), (2, 1)]
    assert sorted(spread(abs, [-3, 2, -1], 2)) == [(0, 3), (1, 2), (2, 1)]


def test_every_change_gives_a_season_that_can_be_read(explained: tuple[Season, Plan]) -> None:
    """Changes leave the season whole: the same tables, no double names."""
    season, plan = explained
    from scheduler.answers.certificate import from_json

    stored = plan.extras["certificates"]
    assert isinstance(stored, list)
    changes = for_limits(season, plan, [from_json(c) for c in stored])
    assert {c.kind for c in changes} >= {"station", "earlier start", "last pour"}
    for change in changes:
        after = change.apply(season)
        assert len({p.name for p in after.crew}) == len(after.crew)
        assert change.text and after != season


def test_time_that_runs_out_is_told(explained: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch) -> None:
    """No time at all: nothing was looked into to the end. What was found by then is told, even if not to the end."""
    season, plan = explained
    made = find_remedies(season, plan, workers=1, singles=3, pairs=0, seconds=0.0)
    assert (made.remedies, made.tried, made.of) == ((), 0, 3)
    slow = remedies._plan_again
    monkeypatch.setattr(remedies, "_plan_again", lambda job: (slow((*job[:3], None, None))[0], False))
    made = find_remedies(season, plan, workers=1, singles=3, pairs=0, seconds=0.0)
    assert made.remedies and (made.tried, made.of) == (0, 3)


def test_a_closed_day_on_which_nobody_can_come_is_not_offered() -> None:
    """Day 2 is closed: offered while the builder may come on any day, not where she comes on Mondays only."""
    base = replace(overloaded(), special_days=(SpecialDay(day(2), "closed"),))
    plan = plan_short(base, {"A": 3})
    stored = certify(base, build_demand(base), plan)
    assert f"open {day(2)}" in {c.key for c in for_limits(base, plan, list(stored))}
    mondays = replace(base, availability=(Availability("AA", 0, 480, 600),))
    assert f"open {day(2)}" not in {c.key for c in for_limits(mondays, plan, list(stored))}
