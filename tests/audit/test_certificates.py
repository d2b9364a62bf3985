"""A false number in a certificate is found and named: every number of every kind of certificate is falsified."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from scheduler.answers.certificate import to_json
from scheduler.answers.certificates import certificate_of
from scheduler.answers.explain import with_certificates
from scheduler.answers.windows import search
from scheduler.audit import Violation, audit
from scheduler.audit.certificates import certificates
from scheduler.audit.readings import Reading
from scheduler.demand.build import build_demand
from scheduler.plan.types import Plan
from scheduler.season.types import Absence, Order, Person, Product, Role, Season, Show, Skill, Station, StockLot
from tests.answers.hand import day, kitchen, plan_short
from tests.handmade import handmade_plan, handmade_season


def found(season: Season, plan: Plan) -> list[Violation]:
    return list(certificates(Reading(season, (plan.from_day, 0)), plan))


def order(name: str, packs: int, due: int) -> Order:
    return Order(name, "Kite jar", packs, day(due))


def cases() -> dict[str, tuple[Season, Plan]]:
    """A season and a short plan for each kind of certificate."""
    base = kitchen(4)
    two = (Station("bench", 2), Station("packing bench", 2))
    pulled = replace(
        base,
        designs=(replace(base.designs[0], pull_loads=1),),
        roles=(*base.roles, Role("build", "puller", skill="pulling", pulls=True)),
        crew=(base.crew[0], replace(base.crew[1], pulls_day=100)),
        skills=(*base.skills, Skill("BB", "pulling", 1)),
    )
    slow = replace(
        base,
        kitchen=replace(base.kitchen, packing_skill="packing"),
        stages=(replace(base.stages[0], minutes=5),),
        skills=(*base.skills, Skill("AA", "packing", 1)),
        products=(Product("Kite jar", packing_seconds=1500),),
    )
    crowd = replace(
        kitchen(4, closes=660, people=4),
        stations=two,
        roles=(Role("build", "builder", skill="building", leads=True), Role("build", "helper", people=2)),
    )
    longer = kitchen(4, closes=660)  # 8:00 and 9:00; a third batch at 10:00 would be done when the kitchen closes
    longer = replace(longer, kitchen=replace(longer.kitchen, last_pour=595))
    seasons = {
        "pours a day": replace(longer, stock=(StockLot("S", 250, day(-3), design="Kite"),)),
        "leaders": replace(
            base, stations=two, skills=(Skill("AA", "building", 1),), absences=(Absence("AA", day(2), day(2)),),
            crew=(Person("AA", 300, 300, shortest_shift=60), base.crew[1]),
        ),
        "pulls": pulled,
        "people at once": crowd,
        "shows": replace(base, shows=(Show("Early", 510, weekday=1),)),
        "packing minutes": slow,
        "supplies": replace(base, designs=(replace(base.designs[0], from_day=day(4)),)),
        "station minutes": crowd,
        "people able": crowd,
        "people's hours": crowd,
    }  # fmt: skip
    out = {}
    for kind, season in seasons.items():
        wanted = replace(season, orders=(order("A", 20, 4), order("B", 9, 3)))
        out[kind] = (wanted, plan_short(wanted, {"A": 20, "B": 9}))
    never = replace(base, orders=(order("A", 3, 1),))
    out["no day in the window"] = (never, plan_short(never, {"A": 3}))
    return out


CASES = cases()


def explained(kind: str) -> tuple[Season, Plan, dict[str, Any]]:
    """A plan with a certificate of a kind as its only one: the one it would choose, or one it found on the way."""
    season, plan = CASES[kind]
    stored = with_certificates(season, plan).extras["certificates"]
    assert isinstance(stored, list)
    one = next((c for c in stored if c["kind"] == kind), None)
    if one is None:
        demand = build_demand(season)
        seen = next(f for f in search(season, demand, plan) if f.limit.kind == kind)
        one = to_json(certificate_of(season, demand, seen, plan))
    return season, replace(plan, extras={"certificates": [one]}), one


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Paths to every number and day of a certificate."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from leaves(inner, (*path, index))
    elif isinstance(value, int) or (isinstance(value, str) and path[-1] in ("first", "last")):
        yield path


def falsified(certificate: dict[str, Any], path: tuple[Any, ...], by: int) -> dict[str, Any]:
    false = deepcopy(certificate)
    at = false
    for key in path[:-1]:
        at = at[key]
    old = at[path[-1]]
    new = old + by if isinstance(old, int) else (date.fromisoformat(old) + timedelta(days=by)).isoformat()
    at[path[-1]] = new
    return false


@pytest.mark.parametrize("kind", sorted(CASES))
def test_a_true_certificate_holds(kind: str) -> None:
    """The twin of the false ones: every certificate as it was found is accepted."""
    season, plan, _ = explained(kind)
    assert found(season, plan) == []


@pytest.mark.parametrize("by", [1, -1, 100])
@pytest.mark.parametrize("kind", sorted(CASES))
def test_every_false_number_is_named(kind: str, by: int) -> None:
    """One number moved up or down: the audit names its field."""
    season, plan, certificate = explained(kind)
    paths = list(leaves(certificate))
    assert len(paths) >= 15 or kind in ("supplies", "no day in the window")
    for path in paths:
        false = replace(plan, extras={"certificates": [falsified(certificate, path, by)]})
        said = [v.what for v in found(season, false)]
        assert said, f"{path} moved by {by} was not noticed"
        named = path[-1] if path[-1] not in ("first", "last") else ""
        assert any(str(named) in what for what in said), (path, said)


@pytest.mark.parametrize("kind", sorted(CASES))
def test_left_out_rows_are_noticed(kind: str) -> None:
    """Leaving out an order, a design or a week is a false sum."""
    season, plan, certificate = explained(kind)
    for table in ("inside", "uses", "parts"):
        for index in range(len(certificate[table])):
            false = deepcopy(certificate)
            del false[table][index]
            assert found(season, replace(plan, extras={"certificates": [false]})), (table, index)


@pytest.mark.parametrize(
    ("field", "value"),
    [("kind", "the weather"), ("unit", "miles"), ("what", "hook"), ("people", ["Nobody"]), ("people", [])],
)
def test_false_words_are_noticed(field: str, value: object) -> None:
    season, plan, certificate = explained("leaders")
    assert found(season, replace(plan, extras={"certificates": [{**certificate, field: value}]}))


@pytest.mark.parametrize("damage", [{}, {"first": "soon"}, "text", 7, None, {"inside": 3}])
def test_a_damaged_certificate_is_a_finding_and_no_crash(damage: object) -> None:
    season, plan, certificate = explained("pulls")
    broken = {**certificate, **damage} if isinstance(damage, dict) and damage else damage
    (violation,) = found(season, replace(plan, extras={"certificates": [broken]}))
    assert "damaged" in violation.what


def test_the_audit_of_a_plan_holds_its_certificates_too() -> None:
    """A plan with a certificate of another plan is not sound."""
    season, plan = handmade_season(), handmade_plan()
    _, _, foreign = explained("pulls")
    assert audit(season, plan) == ()
    assert any(v.rule == "certificates" for v in audit(season, replace(plan, extras={"certificates": [foreign]})))
