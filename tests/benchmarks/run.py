"""This planner side by side with what a user would pick instead; one run after the other, two threads each.

``python -m tests.benchmarks.run S:1.0 M:1.6 --seeds 1 2 3 --seconds 60`` keeps one row a run in
``reports/benchmark.csv`` and leaves out what is there, so that a long measurement goes in parts. Rows of
this planner are run anew when it has changed since; ``--drop-old`` removes them.
``--sample``: S and M at two loads, 15 seconds each, in ten minutes: what quick runs leave over is time
for the others to fit their days (15 seconds at most), and what is not done by then is left for the next
call. Every plan is scored by the audit; time includes building the models; each run is a process of
its own, stopped when it overruns.
"""

from __future__ import annotations

import argparse
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

from tests.benchmarks.cases import (
    PEERS,
    ROWS,
    SAMPLE,
    USUAL,
    WHOLE,
    Case,
    cases_of,
    key_of,
    missing,
    read_rows,
    write_rows,
)
from tests.benchmarks.results import Event, fold, version_of_planner

SAMPLE_CASES = ("S:1.0", "S:1.6", "M:1.0", "M:1.6")
SAMPLE_SECONDS, SAMPLE_FIT, SAMPLE_LASTS = 15, 15, 585.0
LEAST_FIT = 5.0  # seconds that fitting gets also where the whole is late
STARTING = 3.0  # seconds of a run before its clock starts and after its plan is there
BUSY = 3.0  # load of the machine before a run above which others are at work
GRACE = 20.0  # seconds after which a run that overruns is stopped


def measure(
    case: Case, fit: float, grace: float = GRACE, every: bool = False, keep: Path | None = None
) -> dict[str, object]:
    """One run in its own process with ``fit`` seconds for fitting what it wished.

    It is stopped ``grace`` seconds after its time and keeps what it told.
    """
    words = [sys.executable, "-m", "tests.benchmarks.one", *case.key, "--fit", f"{fit:.1f}"]
    words += ["--every"] if every else []
    words += ["--keep", str(keep / f"{case.season}-{case.load}-{case.seed}")] if keep and case.peer == "planner" else []
    load = os.getloadavg()[0]
    child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True, start_new_session=True)
    stopped = threading.Event()

    def stop() -> None:
        stopped.set()
        os.killpg(child.pid, signal.SIGKILL)

    timer = threading.Timer(case.limit + (4 if every else 1) * fit + grace, stop)
    timer.start()
    assert child.stdout is not None
    events: list[Event] = [json.loads(line) for line in child.stdout if line.startswith("{")]
    _, status, used = os.wait4(child.pid, 0)
    timer.cancel()
    child.returncode = os.waitstatus_to_exitcode(status)
    note = "stopped, did not end in time" if stopped.is_set() else "failed" if child.returncode else ""
    row = fold(case, events, note, used.ru_maxrss // 1024)
    if load > BUSY:
        row["note"] = "; ".join(filter(None, (str(row["note"]), "measured on a busy machine")))
    return row


def run_all(
    cases: list[Case], again: list[str], every: bool = False, path: Path = ROWS,
    say: Callable[[str], object] = print, within: float = float("inf"), keep: Path | None = None,
) -> None:  # fmt: skip
    """Run what has no row yet and keep each row as soon as it is there, ``within`` so many seconds in all."""
    todo = missing(cases, read_rows(path), version_of_planner(), again)
    say(f"{len(todo)} of {len(cases)} runs to do")
    ends = time.monotonic() + within
    for number, case in enumerate(todo, 1):
        began = time.monotonic()
        if began + case.limit + STARTING > ends:
            say(f"the time is over: {len(todo) - number + 1} runs are left for the next call")
            break
        share = (ends - began) / (len(todo) - number + 1) - case.limit - STARTING
        fit = 0.0 if case.peer in WHOLE else max(LEAST_FIT, min(case.fit_limit, share))
        row = measure(case, fit, min(GRACE, max(STARTING, ends - began - case.limit - fit)), every, keep)
        key = tuple(str(row[k]) for k in ("season", "load", "seed", "peer", "limit"))
        write_rows([*(r for r in read_rows(path) if key_of(r) != key), row], path)
        say(
            f"{number}/{len(todo)} {case}: hoped {percent(row, 'hoped')}, to the minute {percent(row, 'fitted')}, "
            f"bound {percent(row, 'bound')}, {time.monotonic() - began:.0f} s, {row['peak_mb']} MB "
            f"{row['note'] or ''}"
        )


def percent(row: dict[str, object], what: str) -> str:
    """A share of the weighted demand."""
    value, demand = row[what], row["demand"]
    return f"{100 * int(str(value)) / int(str(demand)):.2f} %" if value != "" and demand else "none"


def main() -> None:
    """Run what is missing, one after the other."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("cases", nargs="*", help="SIZE:LOAD, such as S:1.3; sizes S, M, L, XL")
    parser.add_argument("--sample", action="store_true", help=f"{' '.join(SAMPLE_CASES)}, 15 s, all in ten minutes")
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--peers", nargs="+", choices=list(PEERS), help=f"usually {' '.join(USUAL)}")
    parser.add_argument("--seconds", type=int, default=60, help="what each peer gets")
    parser.add_argument("--fit", type=int, default=60, help="seconds for fitting what was only wished")
    parser.add_argument("--every", action="store_true", help="fit the wishes of all checkpoints, not only the last")
    parser.add_argument("--again", nargs="+", default=[], choices=list(PEERS), help="peers to run anew")
    parser.add_argument("--keep", type=Path, help="keep this planner's plans and their seasons in a folder")
    parser.add_argument("--drop-old", action="store_true", help="remove rows of older versions of this planner")
    asked = parser.parse_args()
    if asked.drop_old:
        write_rows(r for r in read_rows() if r["peer"] != "planner" or r["version"] == version_of_planner())
    names, peers, seconds, fit, within = asked.cases, asked.peers or USUAL, asked.seconds, asked.fit, float("inf")
    if asked.sample:
        names, peers = SAMPLE_CASES, asked.peers or SAMPLE
        seconds, fit, within = SAMPLE_SECONDS, SAMPLE_FIT, SAMPLE_LASTS
    cases = cases_of(names, asked.seeds, peers, seconds, fit)
    run_all(cases, asked.again, asked.every, ROWS, lambda line: print(line, flush=True), within, asked.keep)


if __name__ == "__main__":
    main()
