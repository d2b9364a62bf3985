"""Every season of the corpus, read and planned by the commands in a process with capped memory.

``python -m tests.trust.bad_input 3 17`` tries cases 3 and 17 and prints what came of them.
"""

from __future__ import annotations

import json
import resource
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.trust.corpus import Case, base_season, corpus
from tests.trust.table import Row, Table

MEMORY = 2_500_000_000  # bytes of address space for everything, solver and its libraries included
SECONDS = 300  # of the clock for one case, on a machine that is busy with other things
READ, FAULTS = 0, 3  # exit codes of the commands
EFFORT = "0.05"


def judge(case: Case) -> str:
    """What is wrong with how a case ended, or ""."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        path = case.build(folder)
        before = sorted(folder.rglob("*"))
        code, said = _command("check", str(path))
        if sorted(folder.rglob("*")) != before:
            return "reading changed the folder"
        if code not in (READ, FAULTS):
            return f"check ended with {code}: {said[-300:]}"
        if (code == FAULTS) != (case.expect == "faults") and case.expect != "either":
            return f"check ended with {code}, expected {case.expect}: {said[-300:]}"
        if code == FAULTS:
            return _message(case, said)
        if case.expect == "same":
            from scheduler.season.read import read_season

            return "" if read_season(path) == base_season(case.base) else "it was read as another season"
        return _planned(path, folder / "out") if case.expect == "season" else ""


def _message(case: Case, said: str) -> str:
    """A refusal says what to mend, in short lines, and suggests the right name where one is close."""
    lines = said.strip().splitlines()
    if len(lines) < 2 or "to mend in the season" not in lines[-1]:
        return f"no plain message: {said[-300:]}"
    if case.kind == "a space or a capital" and not ("did you mean" in said or "is written" in said):
        return f"no suggestion: {said[-300:]}"
    long = [line for line in lines if len(line) > 700 or not line.isprintable()]
    return f"a line that is no line: {long[0][:300]!r}" if long else ""


def _planned(path: Path, out: Path) -> str:
    """Plan it: two whole files that the audit finds sound."""
    code, said = _command("plan", str(path), "--out", str(out), "--effort", EFFORT, "--json")
    if code != READ:
        return f"plan ended with {code}: {said[-300:]}"
    found = sorted(p.name for p in out.iterdir())
    if found != ["plan.json", "plan.xlsx"]:
        return f"it left {found}"
    code, said = _command("audit", str(path), str(out))
    return "" if code == READ else f"audit ended with {code}: {said[-300:]}"


def _command(*arguments: str) -> tuple[int, str]:
    """Exit code and everything said by a command, as on the command line."""
    from scheduler.cli import app
    from typer.testing import CliRunner

    done = CliRunner().invoke(app, list(arguments))
    said = done.stderr + done.stdout if arguments[0] != "check" or done.exit_code == READ else done.stderr
    bad = next((word for word in ("Traceback", "Something went wrong") if word in said), "")
    return (99, f"{bad}: {said}") if bad else (done.exit_code, said)


def _too_slow(*_: object) -> None:
    raise TimeoutError("it hangs")


def main(numbers: list[int]) -> None:
    """Try cases by number, one line of JSON each."""
    cases = corpus()
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    signal.signal(signal.SIGALRM, _too_slow)
    for number in numbers:
        signal.alarm(SECONDS)
        try:
            failure = judge(cases[number])
        except BaseException as trouble:
            failure = f"{type(trouble).__name__}: {trouble}"[:300]
        signal.alarm(0)
        print(json.dumps([number, failure]), flush=True)


def table(quick: bool) -> Table:
    """One row for each kind of season; a quick sample leaves out the slow ones."""
    cases = corpus()
    numbers = list(range(len(cases)))
    if quick:
        slow = ("million", "bomb by size", "400 days", "seasons, planned", "names, planned")
        numbers = [n for n in numbers if not any(s in cases[n].kind + cases[n].name for s in slow)][::14]
        numbers += [n for n, c in enumerate(cases) if c.name in ("one day", "closed every day", repr("=1+1"))]
    done: dict[int, str] = {}
    while left := [n for n in numbers if n not in done]:
        run = subprocess.run(
            [sys.executable, "-m", "tests.trust.bad_input", *map(str, left)],
            cwd=Path(__file__).parents[2], capture_output=True, text=True,
        )  # fmt: skip
        told = [line for line in run.stdout.splitlines() if line.startswith("[")]  # solvers may print, too
        done |= dict(map(json.loads, told))
        if run.returncode and (dead := [n for n in left if n not in done]):
            done[dead[0]] = f"the process died ({run.returncode}): {run.stderr[-200:]}"
    rows: dict[str, Row] = {}
    for number in numbers:
        case = cases[number]
        meant = {"faults": "a plain message", "same": "read as meant", "season": "a right plan", "either": "either"}
        row = rows.setdefault(case.kind + case.expect, Row(case.kind, note=meant[case.expect]))
        row.count(f"{case.name}: {done[number]}" if done[number] else None)
    title = f"Bad input: hostile and clumsy seasons, memory capped at {MEMORY / 1e9:.1f} GB"
    return Table(title, list(rows.values()), ("tried", "as it should"))


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]])
