"""Choices after news as they were shown, kept beside the plan: what is taken is what was seen, and at once."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from contextlib import suppress
from datetime import date
from pathlib import Path

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Shown
from scheduler.plan.files import PlanFaults, plan_fingerprint, plan_from_bytes, plan_text
from scheduler.plan.types import Plan
from scheduler.season.fingerprint import fingerprint
from scheduler.season.safe_write import CannotWrite, replace_atomically
from scheduler.season.types import Absence, Season

NAME = ".choices.json"


def question(season: Season, plan: Plan, now: Moment, absences: Iterable[Absence], effort: float) -> str:
    """A name for what was asked: the same season, plan, moment, absences and effort have the same."""
    asked = (fingerprint(season), plan_fingerprint(plan), str(now), sorted(map(repr, absences)), effort)
    return hashlib.sha256(repr(asked).encode("utf-8", "surrogatepass")).hexdigest()[:16]


def keep(shown: Shown, asked: str, folder: Path) -> None:
    """Keep choices in a hidden file beside the plan, in one step; where nothing can be written, nothing is kept."""
    choices = [
        {"way": way, "short": short, "least": least, "plan": json.loads(plan_text(plan))}
        for way, plan, short, least in shown.choices
    ]
    within = None if shown.within is None else [day.isoformat() for day in shown.within]
    told = {"asked": asked, "complete": shown.complete, "within": within, "choices": choices}
    text = json.dumps(told, ensure_ascii=True)

    def write(path: Path) -> None:
        path.write_text(text, encoding="utf-8")

    with suppress(CannotWrite):
        replace_atomically(folder / NAME, write)


def recall(asked: str, folder: Path) -> Shown | None:
    """The choices that were shown when the same was asked; None where there are none, or the file is damaged."""
    with suppress(OSError, ValueError, TypeError, KeyError, PlanFaults):
        found = json.loads((folder / NAME).read_text(encoding="utf-8"))
        if found["asked"] == asked:
            plans = [plan_from_bytes(json.dumps(one["plan"]).encode()) for one in found["choices"]]
            return Shown(
                tuple(
                    (int(one["way"]), plan, int(one["short"]), int(one["least"]))
                    for one, plan in zip(found["choices"], plans, strict=True)
                ),
                bool(found["complete"]),
                _within(found["within"]),
            )
    return None


def _within(days: list[str] | None) -> tuple[date, date] | None:
    if days is None:
        return None
    first, last = map(date.fromisoformat, days)
    return first, last
