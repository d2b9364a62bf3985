"""Where the time goes: one plan, its seconds by phase and by kind of solve, as two tables in markdown.

``python -m tests.benchmarks.where_time_goes demo`` plans the demo as ``rockrota plan`` does, audit and
workbook included; ``S:1.0`` and the like a season of the benchmark; ``--seconds 60`` as the command has it.
Functions are wrapped from outside: what a phase calls of another phase counts there.
"""

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest import mock

from ortools.math_opt.python import mathopt
from ortools.sat.python import cp_model
from scheduler import pipeline
from scheduler.answers.explain import with_certificates
from scheduler.models.caps import oracle
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.heads import Heads
from scheduler.models.day import task
from scheduler.models.search import first_plan, fitting, loop
from scheduler.models.search.master_problem import MasterProblem
from scheduler.season.read import read_season
from scheduler.season.types import Season
from tests.benchmarks.generate import sized
from tests.benchmarks.results import version_of_planner, where
from tests.benchmarks.table import lines

PHASES: Sequence[tuple[Any, str, str]] = (
    (DayLimits, "prepare", "prepare: what days hold"),
    (first_plan, "rule_of_thumb", "rule of thumb"),
    (first_plan, "fit_whole", "fit days to the minute"),
    (first_plan, "fit_counted", "fit days to the minute"),
    (loop, "fit_whole", "fit days to the minute"),
    (loop, "fit_counted", "fit days to the minute"),
    (loop.Search, "draw_again", "the plan drawn again (two processes; its fitting apart)"),
    (first_plan, "drawn", "a large season drawn whole (two processes)"),
    (first_plan.FirstPlan, "_best_of", "sketches (their fitting and filling up apart)"),
    (loop, "shortfall_bound_of", "bound"),
    (loop.Search, "_turn", "guide: days to choose from, and the choice (or guesses by HiGHS, two side by side)"),
    (first_plan, "filled", "fill up"),
    (loop, "filled", "fill up"),
    (fitting.Fitter, "polish", "polish: days made cheaper"),
    (loop, "evened", "pulling shared out evenly"),
    (loop, "finish", "put the plan together"),
    (pipeline, "audit", "audit"),
    (pipeline, "_write_wall", "workbook, read back"),
)
KINDS: Sequence[tuple[Any, str, str]] = (
    (DayLimits, "most", "a day's most, without names"),
    (Heads, "_points", "how much so many people get done"),
    (oracle, "fit_day", "does a day fit (lessons, usual days)"),
    (loop, "generate_columns", "known days and their prices (days built in processes of their own are not counted)"),
    (MasterProblem, "chosen", "the choice (what dives do in processes of their own is not counted)"),
    (loop, "guides", "guesses (what HiGHS does in processes of its own is not counted)"),
    (loop, "shortfall_bound_of", "bound"),
    (task, "pack_in", "packs put in by hand"),
)


@dataclass
class Meter:
    """Calls and own seconds by label: what is measured inside is taken off what is around it, thread by thread."""

    clocks: Sequence[Callable[[], float]]
    spent: dict[str, list[float]] = field(default_factory=dict)  # label -> calls, own seconds of each clock
    frames: threading.local = field(default_factory=threading.local)

    def stack(self) -> list[tuple[str, list[float]]]:
        """(label, seconds measured inside) of what is under way in this thread."""
        if not hasattr(self.frames, "stack"):
            self.frames.stack = []
        return self.frames.stack  # type: ignore[no-any-return]

    @contextmanager
    def under(self, label: str) -> Iterator[None]:
        stack, began = self.stack(), [now() for now in self.clocks]
        inside = [0.0] * len(began)
        stack.append((label, inside))
        try:
            yield
        finally:
            stack.pop()
            took = [now() - at for now, at in zip(self.clocks, began, strict=True)]
            row = self.spent.setdefault(label, [0.0] * (1 + len(took)))
            row[0] += 1
            for i, seconds in enumerate(took):
                row[1 + i] += seconds - inside[i]
                if stack:
                    stack[-1][1][i] += seconds

    def wrap(self, call: Callable[..., Any], label: Callable[..., str], main_only: bool = False) -> Callable[..., Any]:
        def measured(*args: Any, **named: Any) -> Any:
            if main_only and threading.current_thread() is not threading.main_thread():
                return call(*args, **named)
            with self.under(label(*args, **named)):
                return call(*args, **named)

        return measured


@contextmanager
def measured() -> Iterator[tuple[Meter, Meter]]:
    """Phases (clock, core seconds of the process) and kinds of solve (core seconds of the thread)."""
    phases, kinds = Meter((time.monotonic, time.process_time)), Meter((time.thread_time,))

    def inside(name: str) -> str:
        around = kinds.stack()
        return f"{around[-1][0].split('|')[0] if around else 'elsewhere'}|{name}"

    patches = []
    for owner, name, label in KINDS:
        patches.append((owner, name, kinds.wrap(getattr(owner, name), lambda *_, _label=label, **__: _label)))
    patches.append((
        task, "fit_day",
        kinds.wrap(task.fit_day, lambda _season, _asked, _limits, want="cheapest", **__: f"a day, {want}"),
    ))  # fmt: skip
    patches.append((
        cp_model.CpSolver, "solve", kinds.wrap(cp_model.CpSolver.solve, lambda *_, **__: inside("CP-SAT"))
    ))  # fmt: skip
    patches.append((mathopt, "solve", kinds.wrap(mathopt.solve, lambda _model, sort, **__: inside(sort.name))))
    for owner, name, label in PHASES:
        now = next((p[2] for p in reversed(patches) if p[:2] == (owner, name)), getattr(owner, name))
        patches.append((owner, name, phases.wrap(now, lambda *_, _label=label, **__: _label, main_only=True)))
    undo = [mock.patch.object(owner, name, new) for owner, name, new in patches]
    try:
        for patch in undo:
            patch.start()
        yield phases, kinds
    finally:
        for patch in reversed(undo):
            patch.stop()


def plan(season: Season, seconds: float | None) -> tuple[Meter, Meter]:
    """Plan, explain, audit and write a season once, measured."""
    with measured() as (phases, kinds), tempfile.TemporaryDirectory() as folder, phases.under("all else"):
        made = loop.plan_season(season, loop.PlanOptions(seconds=seconds))
        with phases.under("why it is short"):
            made = with_certificates(season, made)
        pipeline.write_audited(season, made, Path(folder))
    return phases, kinds


def phase_table(phases: Meter) -> str:
    """A row a phase, the longest first."""
    rows = sorted(phases.spent.items(), key=lambda p: -p[1][1])
    clock, core = (sum(row[i] for _, row in rows) for i in (1, 2))
    body = [[label, f"{r[0]:.0f}", f"{r[1]:.1f}", f"{100 * r[1] / clock:.0f} %", f"{r[2]:.1f}"] for label, r in rows]
    body.append(["all", "", f"{clock:.1f}", "100 %", f"{core:.1f}"])
    return lines(["phase", "calls", "seconds of the clock", "share", "core-s"], body)


def kind_table(kinds: Meter, core: float) -> str:
    """A row a kind of solve: seconds of a core in Python and inside the solvers."""
    names = sorted({label.split("|")[0] for label in kinds.spent})
    body = []
    for name in names:
        own = kinds.spent.get(name, [0.0, 0.0])
        solvers = {k.split("|")[1]: v for k, v in kinds.spent.items() if k.startswith(name + "|")}
        told = ", ".join(f"{who} {calls:.0f} times {seconds:.1f}" for who, (calls, seconds) in sorted(solvers.items()))
        total = own[1] + sum(v[1] for v in solvers.values())
        body.append((total, [name, f"{own[0]:.0f}", f"{total:.1f}", f"{own[1]:.1f}", told or "none"]))
    rest = core - sum(total for total, _ in body)
    rows = [cells for _, cells in sorted(body, key=lambda r: -r[0])]
    rows.append(["everything else", "", f"{rest:.1f}", f"{rest:.1f}", "none"])
    return lines(["kind of solve", "calls", "core-s", "of it Python", "of it solvers"], rows)


def main() -> None:
    """One season, two tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("season", help="demo, or SIZE:LOAD")
    parser.add_argument("--seconds", type=float)
    asked = parser.parse_args()
    if asked.season == "demo":
        season = read_season(Path("inputs/spring"))
    else:
        name, load = asked.season.split(":")
        season = sized(name, float(load), 1)
    phases, kinds = plan(season, asked.seconds)
    core = sum(row[2] for row in phases.spent.values())
    print(f"{asked.season}, planner of {version_of_planner()}, {where()}\n")
    print(f"{phase_table(phases)}\n\n{kind_table(kinds, core)}")


if __name__ == "__main__":
    main()
