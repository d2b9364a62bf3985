"""The benchmark measures fairly: every peer's plan is audited, rows are kept, the same seed is the same season."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests import seasons
from tests.benchmarks import days, figures, plots, table
from tests.benchmarks.cases import PEERS, Case, cases_of, missing, read_rows, write_rows
from tests.benchmarks.generate import sized
from tests.benchmarks.ground import Event, Ground
from tests.benchmarks.one import run
from tests.benchmarks.results import fold, steps_of
from tests.benchmarks.run import measure, run_all


def events_of(peer: str, seed: int = 3, seconds: float = 3) -> list[Event]:
    events: list[Event] = []
    run(Ground(seasons.tiny(seed), seconds, events.append), peer)
    return events


@pytest.mark.parametrize("peer", PEERS)
def test_every_peer_is_audited(peer: str) -> None:
    """A peer's plan, fitted to the minute, breaks no rule and is no less short than its own bound."""
    events = events_of(peer)
    (end,) = [e for e in events if e["kind"] == "end"]
    assert end["violations"] == 0
    assert end["missed"] == 0
    assert end["fitted"] >= max((e["bound"] for e in events if e["kind"] == "step" and e["bound"]), default=0)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_exact_peers_agree(seed: int) -> None:
    """On seasons of brute-force size counted and named batches, intervals and flows come to the same optimum."""
    both = ("counts-guided", "labelled")
    counted, named = (fold(Case("tiny", 1, seed, p, 3), events_of(p, seed), "", 0) for p in both)
    assert counted["hoped"] == named["hoped"]
    proven = fold(Case("tiny", 1, seed, "counts", 3), events_of("counts", seed), "", 0)
    assert proven["hoped"] == proven["bound"]
    flows, intervals = (fold(Case("tiny", 1, seed, p, 3), events_of(p, seed), "", 0) for p in ("highs-flows", "highs"))
    assert flows["bound"] == intervals["bound"]


def test_checkpoints() -> None:
    """What is known after a checkpoint does not count for it; fitted and hoped for stay apart."""
    events: list[Event] = [
        {"kind": "start", "demand": 100},
        {"kind": "step", "at": 1.5, "short": 50, "bound": None, "fitted": False},
        {"kind": "step", "at": 4.0, "short": 20, "bound": 10, "fitted": True},
        {"kind": "fitted", "mark": 15, "short": 12},
    ]
    row = fold(Case("tiny", 1, 0, "counts", 15), events, "", 0)
    assert (row["hoped_2"], row["fitted_2"], row["bound_2"]) == (50, "", "")
    assert (row["fitted_5"], row["bound_5"], row["fitted_15"]) == (20, 10, 12)
    assert "hoped_60" not in row
    assert steps_of(str(row["steps"])) == [(1.5, 50, None, False), (4.0, 20, 10, True)]


def test_a_run_resumes(tmp_path: Path) -> None:
    """A run in parts keeps its rows and does what is missing; a table is made from them."""
    rows = tmp_path / "rows.csv"
    said: list[str] = []
    run_all(cases_of(["tiny:1"], [3], ["highs"], 2), [], 60, False, rows, said.append)
    first = read_rows(rows)
    run_all(cases_of(["tiny:1"], [3], ["highs", "by-hand"], 2), [], 60, False, rows, said.append)
    assert said[0].startswith("1 of 1") and said[2].startswith("1 of 2")
    assert read_rows(rows)[:1] == first
    assert [r["violations"] for r in read_rows(rows)] == ["0", "0"]
    assert int(first[0]["peak_mb"]) > 20
    assert "Losses: tiny 1.0 at 2 s" in table.full(read_rows(rows))  # no planner in these rows
    assert "Losses: tiny 1.0 at the end" in table.brief(read_rows(rows))


def test_pictures(tmp_path: Path) -> None:
    """Both pictures are drawn from rows alone, also where nobody came near."""
    events: list[Event] = [
        {"kind": "start", "demand": 100}, {"kind": "step", "at": 1.5, "short": 50, "bound": 0, "fitted": True},
        {"kind": "searched", "at": 3}, {"kind": "end", "fitted": 40, "missed": 0, "violations": 0, "fit_seconds": 0},
    ]  # fmt: skip
    write_rows([fold(Case("S", 1.0, 1, p, 15), events, "", 9) for p in ("planner", "highs")], tmp_path / "rows.csv")
    rows = read_rows(tmp_path / "rows.csv")
    plots.gap_over_time(rows, tmp_path / "gap.png")
    plots.time_by_weeks(rows, tmp_path / "weeks.png")
    assert (tmp_path / "gap.png").stat().st_size > 10_000 and (tmp_path / "weeks.png").exists()
    assert figures.seconds_to(rows[0], 0, 60.0) == 1.5
    assert figures.seconds_to(rows[0], 0, 30.0) is None


def test_again() -> None:
    """A peer that is to run again has no row, whatever the file says."""
    cases = cases_of(["S:1"], [1], ["planner", "highs"], 15)
    rows = [dict(zip(("season", "load", "seed", "peer", "limit"), c.key, strict=True)) for c in cases]
    assert missing(cases, rows) == []
    assert [c.peer for c in missing(cases, rows, ["planner"])] == ["planner"]


def test_an_overrun_is_stopped() -> None:
    """A run that does not end is stopped, keeps no plan and says so."""
    row = measure(Case("L", 1.6, 1, "by-hand", 1), 1.0)
    assert row["note"] == "stopped, did not end in time"
    assert row["fitted"] == ""


def test_same_seed_same_season() -> None:
    """Generated seasons depend on the seed alone; the load changes the orders' sizes and nothing else."""
    one, two, other = sized("S", 1.0, 1), sized("S", 1.0, 1), sized("S", 1.0, 2)
    assert one == two
    assert one != other
    assert [o.id for o in sized("S", 1.6, 1).orders] == [o.id for o in one.orders]
    assert sized("S", 1.6, 1).crew == one.crew


def test_days_agree() -> None:
    """Our shortest day and PyJobShop's are the same on a sampled day."""
    rows = days.measure("S", 2, 1, 20)
    assert {row["proven"] for row in rows} == {True}
    assert len({row["minutes"] for row in rows}) == 1


def test_rows_survive(tmp_path: Path) -> None:
    """Rows are written whole or not at all."""
    path = tmp_path / "rows.csv"
    write_rows([fold(Case("tiny", 1, 0, "highs", 2), [], "failed", 5)], path)
    assert read_rows(path)[0]["note"] == "failed"
    assert not path.with_suffix(".part").exists()


def test_no_such_peer() -> None:
    with pytest.raises(ValueError, match="no such peer: luck"):
        cases_of(["S:1"], [1], ["luck"], 15)
