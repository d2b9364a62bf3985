"""The benchmark's tables in markdown, from its rows alone: brief for the README, full for contributors.

``python -m tests.benchmarks.table`` prints the full one, ``--brief`` the short one. With ``--into FILE`` it
takes the place of what stands there between ``<!-- benchmark -->`` and ``<!-- end of benchmark -->``.
Rows of the planner may be of several versions: each line names its own.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Sequence
from pathlib import Path

from tests.benchmarks.cases import CHECKPOINTS, PEERS, Row, read_rows
from tests.benchmarks.days import ROWS as DAY_ROWS
from tests.benchmarks.figures import Place, bounds, gap, middle, peers, place_of, places, seconds_to, spread
from tests.benchmarks.results import version_of_planner

BEHIND = 0.005  # per cent of the demand: less is rounding


def lines(head: Sequence[str], body: Sequence[Sequence[str]]) -> str:
    """A markdown table."""
    rows = [head, ["---"] * len(head), *body]
    return "\n".join("| " + " | ".join(row) + " |" for row in rows)


class Gaps:
    """Gaps by season, load, seconds, peer and moment, over the seeds."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.rows = list(rows)
        self.bounds = bounds(self.rows)

    def of(self, place: Place, peer: str) -> list[Row]:
        return [r for r in self.rows if place_of(r) == place and r["peer"] == peer]

    def bound(self, row: Row) -> int:
        return self.bounds[row["season"], row["load"], row["seed"]]

    def values(self, place: Place, peer: str, what: str) -> list[float | None]:
        return [gap(r, what, self.bound(r)) for r in self.of(place, peer)]


def brief(rows: Sequence[Row]) -> str:
    """One line a season: what each leaves short beyond the proven bound, fitted to the minute and audited."""
    gaps = Gaps(rows)
    names = peers(gaps.rows)
    body = []
    for place in places(gaps.rows):
        cells = [
            spread(gaps.values(place, peer, "fitted")) + _unfinished(gaps.of(place, peer))
            if gaps.of(place, peer) else "not run"
            for peer in names
        ]  # fmt: skip
        body.append([place[0], place[1], place[2], _seeds(gaps, place), *cells, versions(gaps.of(place, "planner"))])
    text = lines(["season", "load", "seconds", "seeds", *(PEERS[p] for p in names), "planner of"], body)
    return f"{text}\n\n{losses(gaps, ['fitted'])} {lost_on_the_way(gaps)}\n\n{made_on(gaps)}"


def _seeds(gaps: Gaps, place: Place) -> str:
    return str(len({r["seed"] for r in gaps.rows if place_of(r) == place}))


def versions(rows: Sequence[Row]) -> str:
    """The versions that rows were run at."""
    return ", ".join(sorted({r["version"] for r in rows}))


def _unfinished(rows: Sequence[Row]) -> str:
    """Runs that were stopped before their plan was audited."""
    stopped = sum(r["fitted"] != "" and r["violations"] == "" for r in rows)
    return f", {stopped} stopped before the audit" if stopped else ""


def full(rows: Sequence[Row]) -> str:
    """A line for each season and peer: every checkpoint, hoped for and fitted, cost in seconds and memory."""
    gaps = Gaps(rows)
    body = [
        _full_line(gaps, place, peer)
        for place in places(gaps.rows) for peer in peers(gaps.rows) if gaps.of(place, peer)
    ]  # fmt: skip
    marks = ", ".join(map(str, CHECKPOINTS))
    head = ["season", "who", "run at", "seeds", *(f"{at} s" for at in CHECKPOINTS), "hoped for", "to the minute",
            f"own bound at {marks} s, at the end", "shows missed",
            "within 1 %, s", "seconds", "fitting", "MB", "remarks"]  # fmt: skip
    lost = losses(gaps, [*(f"fitted_{at}" for at in CHECKPOINTS), "fitted"])
    return f"{lines(head, body)}\n\n{lost}\n\n{catching_up(gaps)}\n\n{made_on(gaps)}"


def _full_line(gaps: Gaps, place: Place, peer: str) -> list[str]:
    rows = gaps.of(place, peer)

    def numbers(what: str) -> list[float | None]:
        return [float(r[what]) if r[what] else None for r in rows]

    return [
        f"{place[0]} {place[1]}, {place[2]} s", peer, versions(rows), str(len(rows)),
        *(_at(gaps, place, peer, at) for at in CHECKPOINTS),
        spread(gaps.values(place, peer, "hoped")), spread(gaps.values(place, peer, "fitted")), _own_bounds(rows),
        spread(numbers("missed_shows"), 0), spread([seconds_to(r, gaps.bound(r), 1.0) for r in rows], 1),
        spread(numbers("seconds"), 0), spread(numbers("fit_seconds"), 0), spread(numbers("peak_mb"), 0),
        "; ".join(sorted({r["note"] for r in rows if r["note"]} | _broken(rows))),
    ]  # fmt: skip


def _own_bounds(rows: Sequence[Row]) -> str:
    """What a peer had proven by each checkpoint and at the end: median share of the demand, a dash for nothing."""
    out = []
    for what in (*(f"bound_{at}" for at in CHECKPOINTS), "bound"):
        known = middle([None if r[what] == "" else -100 * int(r[what]) / int(r["demand"]) for r in rows])
        out.append("-" if known is None else f"{abs(known):.2f}")
    return " / ".join(out) if set(out) != {"-"} else "none"


def _at(gaps: Gaps, place: Place, peer: str, at: int) -> str:
    """The gap at a checkpoint: to the minute, or in brackets what was hoped for where nothing was fitted."""
    fitted = gaps.values(place, peer, f"fitted_{at}")
    if any(v is not None for v in fitted):
        return spread(fitted)
    hoped = gaps.values(place, peer, f"hoped_{at}")
    return f"[{spread(hoped)}]" if any(v is not None for v in hoped) else "none"


def _broken(rows: Sequence[Row]) -> set[str]:
    return {f"{r['violations']} rules broken" for r in rows if r["violations"] not in ("", "0")}


def losses(gaps: Gaps, moments: Sequence[str]) -> str:
    """Where another's median is better than the planner's, at a checkpoint ("fitted_5") or the end ("fitted")."""
    out = []
    for place, what, peer, theirs, mine in _lost(gaps, moments):
        moment = "at the end" if what == "fitted" else f"at {what.split('_')[1]} s"
        ours = f"{mine:.2f} %" if mine is not None else "nothing yet"
        text = f"{place[0]} {place[1]} {moment} of {place[2]} s: {peer} {theirs:.2f} %, planner {ours}"
        out.append(text + (_more_shows(gaps, place, peer) if what == "fitted" else ""))
    none = [f"{p[0]} {p[1]}, {p[2]} s" for p in places(gaps.rows) if not gaps.of(p, "planner")]
    unknown = f" No row of the planner: {'; '.join(none)}." if none else ""
    return "Losses: " + ("; ".join(out) + "." if out else "none in these rows.") + unknown


def lost_on_the_way(gaps: Gaps) -> str:
    """How often another was ahead at a checkpoint, of all that are told."""
    moments = [f"fitted_{at}" for at in CHECKPOINTS]
    others = [p for p in peers(gaps.rows) if p != "planner"]
    pairs = sum(
        bool(gaps.of(place, peer) and gaps.of(place, "planner")) * sum(int(place[2]) >= at for at in CHECKPOINTS)
        for place in places(gaps.rows) for peer in others
    )  # fmt: skip
    lost = len(_lost(gaps, moments))
    return f"At the checkpoints ({', '.join(map(str, CHECKPOINTS))} s) another was ahead in {lost} of {pairs} pairs."


def _lost(gaps: Gaps, moments: Sequence[str]) -> list[tuple[Place, str, str, float, float | None]]:
    """(season, moment, peer, its median, the planner's) wherever a peer is ahead of the planner."""
    out = []
    for place in places(gaps.rows):
        if not gaps.of(place, "planner"):
            continue
        for what in moments:
            mine = middle(gaps.values(place, "planner", what))
            for peer in peers(gaps.rows):
                theirs = middle(gaps.values(place, peer, what))
                if peer != "planner" and theirs is not None and (mine is None or theirs < mine - BEHIND):
                    out.append((place, what, peer, theirs, mine))
    return out


def _more_shows(gaps: Gaps, place: Place, peer: str) -> str:
    """Shows missed, which weigh more than any order, where the two differ and both are known."""
    mine, theirs = ([r["missed_shows"] for r in gaps.of(place, who)] for who in ("planner", peer))
    if "" in mine + theirs or sum(map(int, mine)) == sum(map(int, theirs)):
        return ""
    return f" (shows missed in all: {sum(map(int, theirs))} against {sum(map(int, mine))})"


def catching_up(gaps: Gaps) -> str:
    """Seconds that the planner takes to where the season with one yes-or-no a batch and day ends."""
    out = []
    for place in places(gaps.rows):
        pairs = [
            (seconds_to(mine, gaps.bound(mine), goal), seconds_to(row, gaps.bound(row), goal))
            for row in gaps.of(place, "labelled") if (goal := gap(row, "fitted", gaps.bound(row))) is not None
            for mine in gaps.of(place, "planner") if mine["seed"] == row["seed"]
        ]  # fmt: skip
        if pairs:
            mine, theirs = ([p[i] for p in pairs] for i in (0, 1))
            out.append(f"{place[0]} {place[1]}, {place[2]} s: {spread(mine, 1)} s against {spread(theirs, 1)} s")
    return "To the gap where `labelled` ends, planner against `labelled`: " + ("; ".join(out) or "not measured") + "."


def days_table(path: Path = DAY_ROWS) -> str:
    """Seconds to the proven shortest day, by size of the day."""
    if not path.exists():
        return ""
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    who = list(dict.fromkeys(r["who"] for r in rows))
    body = []
    for size, batches in sorted({(r["season"], r["batches"]) for r in rows}, key=lambda p: (p[0] != "S", int(p[1]))):
        here = [r for r in rows if (r["season"], r["batches"]) == (size, batches)]
        cells = [
            spread([float(r["seconds"]) if r["proven"] == "True" else None for r in here if r["who"] == name])
            for name in who
        ]
        body.append([size, batches, *cells])
    return lines(["kitchen", "batches a day", *(f"{name}, s" for name in who)], body)


def made_on(gaps: Gaps) -> str:
    """Dates, machines, versions and time limits of the rows."""
    rows = gaps.rows
    fits = ", ".join(sorted({r["fit_limit"] for r in rows} - {"0"}, key=int))
    ours, others = (versions([r for r in rows if (r["peer"] == "planner") is it]) for it in (True, False))
    text = (
        "Shares of the weighted demand in per cent, beyond the best bound that any run proved; median and spread over "
        "the seeds. Each had its seconds on 2 threads. The planner's and by-hand's plans count when they are fitted; "
        "the others' wishes count when they are wished and are fitted afterwards"
        + (f" ({fits} s for that at most)" if fits else "")
        + ", which favours them ([in brackets]: hoped for, not fitted). "
    )
    if ours:
        text += f"Planner of commit {ours}" + (f"; others run at {others}" if others else "") + ". "
    return text + "; ".join(sorted({r["where"] for r in rows})) + "."


def put_into(path: Path, text: str, name: str = "benchmark") -> None:
    """Put a table between its two marks in a file; ValueError where they are missing."""
    whole, start, end = path.read_text(encoding="utf-8"), f"<!-- {name} -->", f"<!-- end of {name} -->"
    if start not in whole or end not in whole:
        raise ValueError(f"{path} has no place for the table: add the lines {start} and {end}")
    before, rest = whole.split(start, 1)
    path.write_text(f"{before}{start}\n{text}\n{end}{rest.split(end, 1)[1]}", encoding="utf-8")


def main() -> None:
    """Print a table or put it into a file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--brief", action="store_true")
    parser.add_argument("--into", type=Path)
    asked = parser.parse_args()
    rows = read_rows()
    told = versions([r for r in rows if r["peer"] == "planner"])
    if told and told != version_of_planner():
        print(f"Note: these rows are of {told}, the planner is at {version_of_planner()} now.", file=sys.stderr)
    text = brief(rows) if asked.brief else "\n\n".join(t for t in (full(rows), days_table()) if t)
    if asked.into:
        put_into(asked.into, text)
    else:
        print(text)


if __name__ == "__main__":
    main()
