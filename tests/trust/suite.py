"""The tests themselves: types strict, style clean, and how much of the package they run."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.trust.table import Row, Table

ROOT = Path(__file__).parents[2]
LEAST = 90  # per cent of the lines of every room, models and command line counted


def _ends_well(what: str, *words: str) -> Row:
    row = Row(what)
    done = subprocess.run([sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True)
    row.count(None if done.returncode == 0 else (done.stdout + done.stderr)[-300:])
    return row


def _coverage() -> list[Row]:
    """Run every test with coverage: lines run, by room."""
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "coverage.json"
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--cov=scheduler",
             f"--cov-report=json:{report}", "--cov-report="],
            cwd=ROOT, capture_output=True, text=True,
        )  # fmt: skip
        counts = [line for line in done.stdout.splitlines() if " passed" in line]
        tests = Row("every test passes", note="".join(counts[-1:]))
        tests.count(None if done.returncode == 0 else done.stdout[-500:])
        files = json.loads(report.read_text())["files"] if report.exists() else {}
    rooms: dict[str, list[int]] = {}
    for name, found in files.items():
        parts = Path(name).parts
        sums = rooms.setdefault(parts[1] if len(parts) > 2 else "command line and files", [0, 0])
        sums[0] += found["summary"]["num_statements"]
        sums[1] += found["summary"]["covered_lines"]
    rows = [tests]
    for room, (lines, run) in sorted(rooms.items()):
        percent = 100 * run / max(1, lines)
        row = Row(f"coverage of {room}", note=f"{percent:.1f} % of {lines} statements")
        row.count(None if percent >= LEAST else f"{percent:.1f} %, at least {LEAST} are asked for")
        rows.append(row)
    return rows


def table(quick: bool) -> Table:
    """Quick: the style only (types and coverage take minutes)."""
    rows = [_ends_well("ruff finds nothing", "ruff", "check", "scheduler")]
    if not quick:
        rows += [_ends_well("mypy --strict finds nothing", "mypy"), *_coverage()]
    return Table("The tests and the types", rows)
