"""Damaged plans: the reader names the damage or reads the plan, and the audit never raises."""

from __future__ import annotations

import copy
import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from scheduler.audit import Violation, audit, audit_day
from scheduler.plan.files import PlanFaults, plan_from_bytes, plan_text
from scheduler.plan.summary import summarize
from tests.handmade import handmade_plan, handmade_season

SEASON = handmade_season()
CONTENT = json.loads(plan_text(handmade_plan()))

NUMBERS = st.sampled_from([-(2**53), -1441, -1, 0, 1, 2, 480, 500, 700, 1080, 1440, 100_000, 2**53])
TEXTS = st.sampled_from(
    ["", "Ana", "Ben", "Cleo", "lemon", "nut", "bench", "table", "O1", "F1", "S1", "P1", "0302-1", "pour", "puller",
     "market show", "evening show", "lemon jar", "unicorn", "=1+1", "\x00", "\ud800"]
)  # fmt: skip
DATES = st.sampled_from(
    ["0001-01-01", "2026-02-28", "2026-03-02", "2026-03-03", "2026-03-05", "2026-03-06", "9999-12-31"]
)
ANYTHING = st.one_of(
    st.none(), st.booleans(), NUMBERS, st.floats(allow_nan=False), TEXTS, DATES, st.just([]), st.just({}), st.just([[]])
)


def _spots(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Paths to everything inside a JSON value."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [p for key, v in inside for p in [(*path, key), *_spots(v, (*path, key))]]


SPOTS = _spots(CONTENT)


def _alike(value: Any) -> st.SearchStrategy[Any]:
    """Values of the same type: the reader lets these through."""
    if isinstance(value, bool):
        return st.booleans()
    if isinstance(value, int):
        return NUMBERS
    if isinstance(value, str):
        return DATES if value[:2] == "20" and value[4:5] == "-" else TEXTS
    if isinstance(value, list):
        return st.sampled_from([[], value[:1], value[1:], value[::-1], value + value])
    return ANYTHING if value is None else st.just(value)


def _mutate(data: st.DataObject, alike: bool) -> Any:
    content = copy.deepcopy(CONTENT)
    for _ in range(data.draw(st.integers(1, 4))):
        path = data.draw(st.sampled_from(SPOTS))
        parent = content
        try:
            for key in path[:-1]:
                parent = parent[key]
            old = parent[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue  # an earlier change took this spot away
        if alike:
            parent[path[-1]] = data.draw(_alike(old))
        elif data.draw(st.booleans()):
            parent[path[-1]] = data.draw(ANYTHING)
        else:
            del parent[path[-1]]
    return content


def _judge(content: Any) -> bool:
    """Read and audit; True if the plan could be read."""
    try:
        plan = plan_from_bytes(json.dumps(content).encode())
    except PlanFaults as trouble:
        assert str(trouble)
        return False
    found = audit(SEASON, plan)
    assert all(isinstance(v, Violation) and str(v) for v in found)
    for day in plan.days:
        audit_day(SEASON, day)
    summarize(SEASON, plan)
    return True


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.data())
def test_damage_of_the_right_type_is_judged(data: st.DataObject) -> None:
    """Nonsense of the right type is read, and the audit says what it says without a crash."""
    _judge(_mutate(data, alike=True))


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.data())
def test_damage_of_any_type_is_named_or_judged(data: st.DataObject) -> None:
    """Values of any type, and missing parts, end in a plain message or in a judged plan."""
    _judge(_mutate(data, alike=False))


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.binary(max_size=200), st.integers(0, 10_000))
def test_damaged_bytes_are_named(noise: bytes, at: int) -> None:
    """Bytes overwritten somewhere in the file: a plain message, or a plan."""
    text = plan_text(handmade_plan()).encode()
    at %= len(text)
    try:
        plan = plan_from_bytes(text[:at] + noise + text[at + len(noise) :])
    except PlanFaults as trouble:
        assert str(trouble)
    else:
        audit(SEASON, plan)
