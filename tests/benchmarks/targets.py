"""The other targets, one table: start and check, fitting and rebalancing a large season, growth, memory, days.

``python -m tests.benchmarks.targets`` measures what has no row yet for this version of the planner, keeps rows in
``reports/benchmark-targets.csv`` and prints the table; name some to measure only those (``--again``: anew).
``rebalance`` wants a plan that ``run L:1.0 --peers planner --keep FOLDER`` kept: ``--plan FOLDER/L-1.0-1``.
``--table`` measures nothing; ``--into FILE`` puts it between ``<!-- targets -->`` and ``<!-- end of targets -->``.
What comes from the rows of the benchmark (gaps, growth, memory) is worked out anew each time.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from statistics import linear_regression, median

from scheduler.paper.words import count
from tests.benchmarks.cases import Row, read_rows
from tests.benchmarks.figures import curve, gap, middle, seconds_to, spread
from tests.benchmarks.generate import SIZES
from tests.benchmarks.results import version_of_planner, where
from tests.benchmarks.table import Gaps, days_table, lines, put_into, versions

ROWS = Path("reports/benchmark-targets.csv")
HEAD = ("target", "on", "wanted", "got", "met", "version", "where")
Line = dict[str, str]


def started(words: Sequence[str]) -> tuple[str, float, int]:
    """What a command prints, its seconds and its peak memory in MB. RuntimeError where it fails."""
    began = time.monotonic()
    child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    text = child.stdout.read()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise RuntimeError(f"{' '.join(words)} ended with {child.returncode}")
    return text, time.monotonic() - began, used.ru_maxrss // 1024


def line(target: str, on: str, wanted: str, got: str, met: bool | None, version: str = "") -> Line:
    answer = "" if met is None else "yes" if met else "no"
    return dict(zip(HEAD, (target, on, wanted, got, answer, version or version_of_planner(), where()), strict=True))


def quick(target: str, words: Sequence[str], limit: float) -> Line:
    """Median of five starts of a command."""
    command = [sys.executable, "-c", "from scheduler.cli import main; main()", *words]
    times = [started(command)[1] for _ in range(5)]
    on = f"`rockrota {' '.join(words)}`"
    return line(target, on, f"under {limit} s", f"{spread(times)} s", median(times) < limit)


def start(_asked: argparse.Namespace) -> Line:
    return quick("start", ["--help"], 0.3)


def check(_asked: argparse.Namespace) -> Line:
    return quick("check", ["check", "inputs/spring"], 1.0)


def fit(asked: argparse.Namespace) -> Line:
    """All days of a large season to the minute."""
    size = asked.size
    text, _, megabytes = started([sys.executable, "-m", "tests.benchmarks.heavy", "fit", size, "1.0", "1"])
    told = json.loads(text)
    got = (
        f"{told['seconds']:.1f} s ({told['core']:.0f} core-s) for {told['days']} days, {told['batches']} batches; "
        f"{told['lighter']} days made lighter; {told['before']:.0f} s before for what days hold; {megabytes} MB"
    )
    return line("fit", f"all days of {size} 1.0, rule of thumb", "under 60 s", got, told["seconds"] < 60)


def rebalance(asked: argparse.Namespace) -> Line:
    """Somebody ill, so many cases, on a kept plan."""
    words = [sys.executable, "-m", "tests.benchmarks.heavy", "rebalance", str(asked.plan), str(asked.cases)]
    text, _, megabytes = started(words)
    told = json.loads(text)
    got = f"median {told['median']:.1f} s, worst {told['worst']:.1f} s of {told['cases']} cases"
    got += (f", {told['none']} of them without a way on" if told["none"] else "") + f"; {megabytes} MB"
    return line("rebalance", asked.plan.name, "median under 10 s", got, told["median"] < 10)


MEASURED: dict[str, Callable[[argparse.Namespace], Line]] = {
    "start": start, "check": check, "fit": fit, "rebalance": rebalance,
}  # fmt: skip


def from_rows(gaps: Gaps) -> Iterator[Line]:
    """Targets that the rows of the benchmark tell of."""
    rows = [r for r in gaps.rows if r["peer"] == "planner" and r["demand"]]
    if not rows:
        return
    for season, load in sorted({(r["season"], r["load"]) for r in rows}, key=lambda p: (_weeks(p[0]), float(p[1]))):
        percent, seconds = near(season, float(load))
        here = [r for r in rows if (r["season"], r["load"]) == (season, load) and int(r["limit"]) >= seconds]
        if seconds and here:
            had = middle([_had(r, gaps.bound(r), seconds) for r in here])
            got = "no plan yet" if had is None else f"{had:.2f} %"
            when = spread([seconds_to(r, gaps.bound(r), percent) for r in here], 1)
            got += f" at {seconds} s; there after {when}{' s' if when != 'none' else ''}"
            wanted = f"{percent} % from the bound in {seconds} s" if percent else f"proven in {seconds} s"
            met = had is not None and had <= percent
            seeds = len({r["seed"] for r in here})
            on = f"{season} {load}, {count(seeds, 'seed')}, {count(len(here), 'run')}"
            yield line("gap", on, wanted, got, met, versions(here))
    large = [r for r in rows if r["season"] == "L"]
    if large:
        most = max(int(r["peak_mb"]) for r in large)
        yield line("memory", "L", "under 1500 MB", f"{most} MB", most < 1500, versions(large))
    yield growth(gaps, rows, versions(rows))


def _weeks(season: str) -> int:
    return SIZES[season].weeks if season in SIZES else 0


def near(season: str, load: float) -> tuple[float, int]:
    """How near to the bound, in per cent of the demand, and in how many seconds a season is to be; 0 s: no target."""
    goals = {"S": (0.0, 5), "M": (0.2, 20), "L": (0.5 if load <= 1.6 else 1.0, 60), "XL": (1.0, 180)}
    return goals.get(season, (0.0, 0))


def _had(row: Row, bound: int, seconds: float) -> float | None:
    """Gap in per cent that a run had by a moment."""
    ends = [value for at, value in curve(row, bound) if at <= seconds]
    return ends[-1] if ends else None


def growth(gaps: Gaps, rows: Sequence[Row], version: str) -> Line:
    """The exponent of weeks in the seconds to a fixed gap: the smallest gap that most sizes came to."""
    best: tuple[float, list[tuple[int, float]]] = (0.0, [])
    for percent in (0.5, 1.0, 2.0, 5.0, 10.0):
        points = []
        for size in SIZES:
            here = [r for r in rows if r["season"] == size and gap(r, "fitted", gaps.bound(r)) is not None]
            when = middle([seconds_to(r, gaps.bound(r), percent) for r in here])
            if when is not None:
                points.append((SIZES[size].weeks, max(0.1, when)))
        if len(points) > len(best[1]):
            best = percent, points
    percent, points = best
    told = ", ".join(f"{weeks} weeks {seconds:.1f} s" for weeks, seconds in points) or "no season came within 10 %"
    on, wanted = "seconds to a fixed gap", "weeks to the 1.3 at most"
    if len(points) < 2:
        return line("growth", on, wanted, told, None, version)
    slope = linear_regression([math.log(w) for w, _ in points], [math.log(s) for _, s in points]).slope
    got = f"to the {slope:.2f} (within {percent} %: {told})"
    return line("growth", on, wanted, got, slope <= 1.3, version)


def read() -> list[Line]:
    if not ROWS.exists():
        return []
    with ROWS.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def keep(rows: Sequence[Line]) -> None:
    ROWS.parent.mkdir(exist_ok=True)
    with ROWS.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, HEAD)
        writer.writeheader()
        writer.writerows(rows)


def table(rows: Sequence[Line]) -> str:
    """All targets in markdown, the days beside another library below."""
    gaps = Gaps(read_rows())
    all_rows = [*rows, *from_rows(gaps)]
    body = [[r["target"], r["on"], r["wanted"], r["got"], r["met"] or "not known", r["version"]] for r in all_rows]
    text = lines(["target", "on", "wanted", "measured", "met", "planner of"], body)
    machines = "; ".join(sorted({r["where"] for r in rows})) or where()
    return "\n\n".join(t for t in (text, days_table(), machines + ".") if t)


def main() -> None:
    """Measure what is missing and print all."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("targets", nargs="*", help=f"of {', '.join(MEASURED)}; all where none is named")
    parser.add_argument("--size", default="L", choices=list(SIZES), help="season whose days are fitted")
    parser.add_argument("--plan", type=Path, help="folder of a kept plan, for rebalancing")
    parser.add_argument("--cases", type=int, default=12, help="of somebody ill")
    parser.add_argument("--again", action="store_true", help="measure also what there is a row of")
    parser.add_argument("--table", action="store_true", help="measure nothing")
    parser.add_argument("--into", type=Path, help="put the table into a file")
    asked = parser.parse_args()
    unknown = set(asked.targets) - set(MEASURED)
    if unknown:
        parser.error(f"no such target: {', '.join(sorted(unknown))}")
    rows = read()
    for name, measure in MEASURED.items():
        there = any(r["target"] == name and r["version"] == version_of_planner() for r in rows)
        wanted = not asked.targets or name in asked.targets
        if asked.table or not wanted or (there and not asked.again) or (name == "rebalance" and not asked.plan):
            continue
        row = measure(asked)
        print(f"{name}: {row['got']}", file=sys.stderr, flush=True)
        rows = [*(r for r in rows if r["target"] != name), row]
        keep(rows)
    if asked.into:
        put_into(asked.into, table(rows), "targets")
    else:
        print(table(rows))


if __name__ == "__main__":
    main()
