"""From the events of a run to its row."""

from __future__ import annotations

import hashlib
import os
import platform
import subprocess
from collections.abc import Sequence
from datetime import datetime
from functools import cache
from importlib.metadata import version
from typing import Any

from tests.benchmarks.cases import CHECKPOINTS, Case

Event = dict[str, Any]
ROOMS = [f"scheduler/{room}" for room in ("season", "demand", "plan", "models")]  # what a plan depends on


def fold(case: Case, events: Sequence[Event], note: str, peak_mb: int) -> dict[str, object]:
    """One row. At a checkpoint: the best by then, hoped for and fitted; a blank is nothing yet.

    What a whole planner has fitted counts when it is fitted; a wish counts when it is wished,
    though it is fitted only afterwards, which favours those who only wish.
    """
    steps = [e for e in events if e["kind"] == "step"]
    end = next((e for e in events if e["kind"] == "end"), {})
    row: dict[str, object] = dict(zip(("season", "load", "seed", "peer", "limit"), case.key, strict=True))
    row |= {"fit_limit": case.fit_limit, "version": version_of_planner()}
    row["demand"] = next((e["demand"] for e in events if e["kind"] == "start"), "")
    for at in CHECKPOINTS:
        if at <= case.limit:
            row |= {f"{what}_{at}": value for what, value in _by(steps, events, at).items()}
    last = _by(steps, events, float("inf"))
    row |= {
        "hoped": last["hoped"], "fitted": end.get("fitted", last["fitted"]), "bound": last["bound"],
        "missed_shows": end.get("missed", ""), "violations": end.get("violations", ""),
        "seconds": next((e["at"] for e in events if e["kind"] == "searched"), ""),
        "fit_seconds": end.get("fit_seconds", ""), "peak_mb": peak_mb,
        "steps": " ".join(f"{e['at']}:{_text(e['short'])}:{_text(e['bound'])}:{int(e['fitted'])}" for e in steps),
        "note": note or _note(end, case), "where": where(),
    }  # fmt: skip
    return row


def _note(end: Event, case: Case) -> str:
    """What is to be said of a run that ended by itself."""
    if not end:
        return "no plan in the time"
    cut = end.get("fit_cut")
    return f"fitting cut after {cut:.0f} s" if cut and case.fit_limit else ""


def _by(steps: Sequence[Event], events: Sequence[Event], at: float) -> dict[str, object]:
    """The best by a moment, "" where there is nothing."""
    known = [e for e in steps if e["at"] <= at]
    hoped = [e["short"] for e in known if e["short"] is not None]
    fitted = [e["short"] for e in known if e["fitted"] and e["short"] is not None]
    fitted += [e["short"] for e in events if e["kind"] == "fitted" and e["mark"] <= at]
    bounds = [e["bound"] for e in known if e["bound"] is not None]
    return {
        "hoped": hoped[-1] if hoped else "", "fitted": min(fitted, default=""), "bound": max(bounds, default=""),
    }  # fmt: skip


def _text(value: object) -> str:
    return "" if value is None else str(value)


def where() -> str:
    """Date, machine and versions of a run."""
    names = ("ortools", "highspy", "pyjobshop")
    parts = [f"{datetime.now():%Y-%m-%d}", f"{os.cpu_count()} cores {platform.machine()}"]
    parts += [f"Python {platform.python_version()}", *(f"{name} {version(name)}" for name in names)]
    return ", ".join(parts)


@cache
def version_of_planner() -> str:
    """The last commit that changed the planner; with a mark of their content where changes are not committed."""

    def git(*words: str) -> str:
        return subprocess.run(["git", *words, "--", *ROOMS], capture_output=True, text=True, check=True).stdout

    try:
        commit, changes = git("log", "-1", "--format=%h").strip(), git("diff", "HEAD")
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return commit + ("+" + hashlib.sha1(changes.encode()).hexdigest()[:5] if changes else "")


def steps_of(text: str) -> list[tuple[float, int | None, int | None, bool]]:
    """(seconds, short, bound, fitted to the minute) from a row's steps."""
    out = []
    for step in text.split():
        at, short, bound, fitted = step.split(":")
        out.append((float(at), int(short) if short else None, int(bound) if bound else None, fitted == "1"))
    return out
