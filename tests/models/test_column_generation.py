"""Days to choose from: new ones where a season of known days would pay for them; plans made of them are sound."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.audit import audit
from scheduler.models.caps.limits import DayLimits, request_with_all
from scheduler.models.caps.too_much import TooMuch, least_cleaning
from scheduler.models.counts.board import Wish
from scheduler.models.counts.days import held_on
from scheduler.models.counts.deal import repacked
from scheduler.models.counts.part import part_of
from scheduler.models.facts import Facts
from scheduler.models.search import column_generation, fitted, loop
from scheduler.models.search.column_generation import generate_columns
from scheduler.models.search.fitting import BY_HAND, Fitter
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.models.search.master_problem import MasterProblem
from scheduler.models.search.thumb import rule_of_thumb
from scheduler.models.search.wished import fit_days
from scheduler.season.types import Pin, Show
from tests.benchmarks.generate import generated
from tests.seasons import small_random, tiny


def started(facts: Facts) -> tuple[Fitter, DayLimits, loop.Fitted]:
    """A planner that knows the days of the rule of thumb."""
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits)
    return fitter, limits, loop.fit_whole(facts, fitter, rule_of_thumb(facts, limits), BY_HAND)


def test_new_days_are_worth_having() -> None:
    """Two weeks of six designs: with new days the season of broken ones is less short, and each has its batches."""
    facts = facts_of(generated(2, 4, 6, 30, 1, load=1.4, seed=2), PlanOptions())
    fitter, limits, thumb = started(facts)
    days = {facts.season.index(d.day): d for d in thumb.given.days}
    part = part_of(facts, days, thumb.given, frozenset(facts.weeks))
    known = {t: {tuple(sorted(b.design for b in d.batches)) for d in fitter.known(t, 99)} for t in facts.days}
    offered = generate_columns(part, days, fitter, limits, lambda: 0)
    assert offered is not None
    before = column_generation.known_days(facts, days, started(facts)[0], 99)
    first = column_generation.master_of(part, days, before, limits).solve_lp()
    assert first is not None
    assert offered.lp_value < first.value
    new = [d for t, some in offered.days.items() for d in some
           if tuple(sorted(b.design for b in d.batches)) not in known[t]]  # fmt: skip
    assert new
    assert all(days[t] in some for t, some in offered.days.items() if t in days)


def test_days_are_made_anew_where_changes_lead_nowhere(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only days of one hard batch are known: what a day without names holds is worth more, and some of it fits."""
    facts = facts_of(generated(2, 4, 6, 30, 1, load=1.4, seed=2), PlanOptions())
    limits = DayLimits(facts)
    fitter = Fitter(facts, limits)
    hardest = max(facts.wanted, key=lambda d: (facts.season.design_by_name[d].difficulty, d))
    wish = Wish({t: (hardest,) for t in facts.days}, {}, {}, {}, {}, {})
    poor = loop.fit_whole(facts, fitter, wish, BY_HAND)
    days = {facts.season.index(d.day): d for d in poor.given.days}
    part = part_of(facts, days, poor.given, frozenset(facts.weeks))
    for source in ("_changed", "_borrowed"):
        monkeypatch.setattr(column_generation._Pricing, source, lambda *_: iter(()))
    board = column_generation.master_of(part, days, column_generation.known_days(facts, days, fitter, 99), limits)
    first, offered = board.solve_lp(), generate_columns(part, days, fitter, limits, lambda: 0)
    assert first is not None and offered is not None
    assert offered.lp_value < 0.9 * first.value


def test_what_one_day_holds_is_tried_on_others() -> None:
    """Everyone is in on all days, batches are known of one day alone: others are asked for them with their own people.

    What is offered for a day is worth more than what it has, the best first, and never what it has already.
    """
    facts = facts_of(generated(2, 4, 6, 30, 1, load=1.4, seed=2), PlanOptions())
    fitter, limits, thumb = started(facts)
    days = {facts.season.index(d.day): d for d in thumb.given.days}
    part = part_of(facts, days, thumb.given, frozenset(facts.weeks))
    offered = {t: [days[t]] for t in facts.days if t in days}
    board = column_generation.master_of(part, days, offered, limits)
    found = board.solve_lp()
    assert found is not None
    ideas = list(column_generation._Pricing(board, found, fitter, limits)._borrowed())
    sets = {tuple(sorted(b.design for b in day.batches)) for day in days.values()}
    assert ideas and {asked.designs for _, asked in ideas} <= sets
    for t, own in days.items():
        here = [(gain, asked) for gain, asked in ideas if facts.season.index(asked.day) == t]
        assert all(asked.designs != tuple(sorted(b.design for b in own.batches)) for _, asked in here)
        assert [gain for gain, _ in here] == sorted((gain for gain, _ in here), reverse=True)
        assert len(here) <= column_generation.BORROWED


def test_what_asks_as_much_as_was_too_much_is_not_tried() -> None:
    """Five batches found no room: six are not looked for, nor five that take longer; four are, and five by fewer."""
    facts = facts_of(generated(2, 4, 6, 30, 1, seed=2), PlanOptions())
    easy, *_, hard = sorted(facts.wanted, key=lambda d: (facts.minutes_of(d), d))
    vain, t = TooMuch(facts, DayLimits(facts)), facts.days[0]
    asked = request_with_all(facts, t, (easy,) * 5)
    assert not vain.covers(asked)
    vain.add(asked)
    assert vain.covers(asked) and vain.covers(replace(asked, designs=(easy,) * 6))
    assert not vain.covers(replace(asked, designs=(easy,) * 4))
    assert vain.covers(replace(asked, designs=(*(easy,) * 4, hard)))
    assert not vain.covers(replace(asked, hands=asked.hands[1:]))


def test_a_day_with_less_cleaning_is_looked_for_all_the_same() -> None:
    """Light and dark by turns found no room: as many that are all light may, those by turns do not."""
    season = generated(2, 4, 6, 30, 1, seed=2)
    alike = season.designs[0]
    dark, light = replace(alike, name="Dark", colour=3), replace(alike, name="Light", colour=1)
    season = replace(season, designs=(*season.designs, dark, light))
    facts = facts_of(season, PlanOptions())
    vain = TooMuch(facts, DayLimits(facts))
    asked = request_with_all(facts, facts.days[0], ("Dark", "Light") * 3)
    vain.add(asked)
    assert vain.covers(asked)
    assert not vain.covers(replace(asked, designs=("Light",) * 6))


@pytest.mark.parametrize(("places", "minutes"), [(1, 5 + 5), (2, 5), (3, 0)])
def test_least_cleaning(places: int, minutes: int) -> None:
    """Light to dark takes 5, back 10: three shades need 10 in the best order; places save cleans."""
    season = generated(2, 4, 6, 30, 1, seed=2)
    season = replace(season, stations=tuple(replace(s, places=places) for s in season.stations))
    designs = [replace(season.designs[0], name=str(colour), colour=colour) for colour in (2, 3, 1)]
    assert least_cleaning(season, designs) == minutes


def test_shows_of_days_that_stand_are_no_matter() -> None:
    """The first of two weeks is free, both have shows: there is a season of known days."""
    season = generated(2, 4, 4, 12, 1, seed=1)
    facts = facts_of(season, PlanOptions())
    fitter, limits, thumb = started(facts)
    assert any(held_on(d) for d in thumb.given.days)
    days = {facts.season.index(d.day): d for d in thumb.given.days}
    for week in facts.weeks:
        part = part_of(facts, days, thumb.given, frozenset({week}))
        now = {t: days[t] for t in part.facts.days if t in days}
        assert generate_columns(part, now, fitter, limits, lambda: 0) is not None


@pytest.mark.parametrize("seed", range(4))
def test_a_season_of_known_days_alone_is_sound(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """No guesses at all: every rule is kept, and the rule of thumb is not better."""
    for guesses in ("CAREFUL", "BOLD"):
        monkeypatch.setattr(loop, guesses, loop.KNOWN_DAYS)
    season = replace(small_random(seed), shows=(Show("Wednesday show", 11 * 60, weekday=2),))
    plan = plan_season(season, PlanOptions(effort=0.3))
    assert not audit(season, plan)
    assert sum(s.weighted for s in plan.shortfalls) <= plan.rule_of_thumb_weighted


def test_packs_that_find_no_room_are_packed_on_another_day() -> None:
    """More packs wished for on the last day than it has hours: none is lost."""
    season = tiny(5, days=5, people=3, orders=6)
    facts, product = facts_of(season, PlanOptions()), season.products[0]
    first, last = facts.days[0], facts.days[-1]
    hours = sum(s.longest for s in facts.hands[last].values())
    packs = 60 * hours * 5 // 4 // product.packing_seconds  # for a day and a quarter of everyone
    people = {t: tuple((n, s.longest) for n, s in facts.hands[t].items()) for t in (first, last)}
    wish = Wish({}, {last: ((product.name, packs),)}, people, {}, {}, {})
    book, _ = fit_days(Fitter(facts, DayLimits(facts)), wish, BY_HAND)
    where = {t: sum(run.packs for run in d.packing) for t, d in book.days.items()}
    assert sum(where.values()) == packs
    assert 0 < where[last] < packs


def test_known_days_are_offered_where_everybody_may_do_their_part() -> None:
    """A role that one may not have on a day: no day that is offered there has it, those of other dates do."""
    season = generated(2, 4, 6, 30, 1, load=1.4, seed=2)
    _, _, thumb = started(facts_of(season, PlanOptions()))
    day = next(d for d in thumb.given.days if d.batches)
    role, person = day.batches[0].runs[0].crew[0]
    season = replace(season, pins=(Pin("not in role", day.day, person=person, role=role),))
    facts = facts_of(season, PlanOptions())
    fitter, _, _ = started(facts)
    had = {t: {pair for d in fitter.known(t, 99) for b in d.batches for r in b.runs for pair in r.crew}
           for t in facts.days}  # fmt: skip
    t = season.index(day.day)
    assert had[t] and (role, person) not in had[t]
    assert any((role, person) in pairs for other, pairs in had.items() if other != t)


def test_packs_of_a_part_stay_within_its_days(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first of three weeks is planned anew: its packs are wished for on its days alone, and the others stand."""
    season = generated(3, 4, 6, 30, 1, load=1.3, seed=1)
    facts = facts_of(season, PlanOptions())
    fitter, limits, thumb = started(facts)
    days = {season.index(d.day): d for d in thumb.given.days}
    part = part_of(facts, days, thumb.given, frozenset({facts.week(facts.days[0])}))
    now = {t: days[t] for t in part.facts.days if t in days}
    known = column_generation.known_days(part.facts, now, fitter, 20)
    answer = MasterProblem(part.facts, limits, known, part.settled).chosen(now, 0.0, None, 1)
    assert answer.wish is not None
    wishes = list[Wish]()

    def watched(*args: object) -> Wish:
        wishes.append(repacked(*args))  # type: ignore[arg-type]
        return wishes[-1]

    monkeypatch.setattr(fitted, "repacked", watched)
    after = fitted.fit_counted(facts, fitter, answer.wish, part=part)
    (wish,) = wishes
    assert wish.packing and wish.packing.keys() <= set(part.facts.days) < set(facts.days)
    assert {season.index(d.day): d.designs for d in after.given.days}.items() >= {
        t: d.designs for t, d in part.stand.items() if d.designs
    }.items()
