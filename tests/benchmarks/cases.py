"""What is measured and where the rows are kept. Imports no solver, so that it weighs nothing."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

ROWS = Path("reports/benchmark.csv")
CHECKPOINTS = (2, 5, 15, 60)  # seconds
PEERS = {
    "planner": "this planner",
    "by-hand": "rule of thumb, then adding and swapping by hand",
    "labelled": "CP-SAT, one yes-or-no for each batch and day",
    "counts-guided": "CP-SAT alone on batch counts",
    "highs-guided": "HiGHS alone (in the wheel), windows as intervals",
    "wheel-flows-guided": "HiGHS alone (in the wheel), pieces flow to orders",
    "highspy-guided": "HiGHS alone (highspy, 2 threads), windows as intervals",
    "flows-guided": "HiGHS alone (highspy, 2 threads), pieces flow to orders",
    "counts": "CP-SAT alone on counts, days filled to the proven caps",
    "highs": "HiGHS in the wheel, intervals, days filled to the proven caps",
    "highs-flows": "highspy, flows, days filled to the proven caps",
}
# "guided": days are left the air for waiting that planners know they need; without it far fewer days fit.
USUAL = tuple(PEERS)[:8]
SAMPLE = ("planner", "by-hand", "labelled", "counts-guided", "highs-guided", "flows-guided")
WHOLE = ("planner", "by-hand")  # these fit their days within their seconds; the others only wish
KEY = ("season", "load", "seed", "peer", "limit")
HEAD = (
    *KEY, "fit_limit", "version", "demand",
    *(f"{what}_{at}" for at in CHECKPOINTS for what in ("hoped", "fitted", "bound")),
    "hoped", "fitted", "missed_shows", "bound", "seconds", "fit_seconds", "violations", "peak_mb",
    "steps", "note", "where",
)  # fmt: skip

Row = dict[str, str]


@dataclass(frozen=True)
class Case:
    """One run: a season, a planner, the seconds it gets, and those for fitting what it only wished."""

    season: str
    load: float
    seed: int
    peer: str
    limit: int
    fit: int = 60

    @property
    def key(self) -> tuple[str, ...]:
        return self.season, f"{self.load}", f"{self.seed}", self.peer, f"{self.limit}"

    @property
    def fit_limit(self) -> int:
        """Seconds for fitting afterwards: none for whoever fits within its seconds."""
        return 0 if self.peer in WHOLE else self.fit

    def __str__(self) -> str:
        return f"{self.season} load {self.load} seed {self.seed}, {self.peer}, {self.limit} s"


def cases_of(
    asked: Iterable[str], seeds: Iterable[int], peers: Iterable[str], limit: int, fit: int = 60
) -> list[Case]:
    """All runs of ``S:1.0`` and the like, the peers of one season one after the other."""
    seeds, peers = tuple(seeds), tuple(peers)
    unknown = sorted(set(peers) - set(PEERS))
    if unknown:
        raise ValueError(f"no such peer: {', '.join(unknown)}; there are {', '.join(PEERS)}")
    pairs = [(name, float(load)) for name, load in (case.split(":") for case in asked)]
    return [Case(name, load, seed, peer, limit, fit) for name, load in pairs for seed in seeds for peer in peers]


def read_rows(path: Path = ROWS) -> list[Row]:
    """All rows so far; none where nothing has been run."""
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def key_of(row: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(row[k] for k in KEY)


def write_rows(rows: Iterable[Mapping[str, object]], path: Path = ROWS) -> None:
    """The whole file anew, beside the old one until it is complete."""
    fresh = path.with_suffix(".part")
    path.parent.mkdir(parents=True, exist_ok=True)
    with fresh.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, HEAD, restval="")
        writer.writeheader()
        writer.writerows(rows)
    fresh.replace(path)


def missing(cases: Iterable[Case], rows: Iterable[Row], version: str, again: Iterable[str] = ()) -> list[Case]:
    """Runs that have no row yet, those of peers that are to run again, those of a planner that has changed."""
    there = {key_of(row): row for row in rows}
    return [case for case in cases if case.peer in again or not _counts(case, there.get(case.key), version)]


def _counts(case: Case, row: Row | None, version: str) -> bool:
    """Whether a row tells what the case asks for. The peers did not change with the planner."""
    if row is None or row["fit_limit"] != str(case.fit_limit):
        return False
    return case.peer != "planner" or row["version"] == version
