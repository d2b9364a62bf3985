"""The benchmark measures fairly: every peer's plan is audited, rows are kept, the same seed is the same season."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest
from scheduler.models.search import loop
from scheduler.plan.files import read_plan
from scheduler.season.fingerprint import fingerprint
from scheduler.season.read import read_season
from tests import seasons
from tests.benchmarks import days, figures, plots, table, targets, where_time_goes
from tests.benchmarks.cases import HEAD, PEERS, Case, cases_of, missing, read_rows, write_rows
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
    run_all(cases_of(["tiny:1"], [3], ["highs"], 2), [], False, rows, said.append)
    first = read_rows(rows)
    run_all(cases_of(["tiny:1"], [3], ["highs", "by-hand"], 2), [], False, rows, said.append)
    assert said[0].startswith("1 of 1") and said[2].startswith("1 of 2")
    assert read_rows(rows)[:1] == first
    assert [r["violations"] for r in read_rows(rows)] == ["0", "0"]
    assert int(first[0]["peak_mb"]) > 20
    assert "No row of the planner: tiny 1.0, 2 s" in table.full(read_rows(rows))
    assert "Losses: none in these rows. No row" in table.brief(read_rows(rows))


def test_a_run_ends_in_its_time(tmp_path: Path) -> None:
    """What can't be done within the time is left for the next call."""
    said: list[str] = []
    run_all(cases_of(["tiny:1"], [3], ["highs"], 2), [], False, tmp_path / "rows.csv", said.append, within=3.0)
    assert said[1:] == ["the time is over: 1 runs are left for the next call"]


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


def rows_of(fitted: dict[str, int], version: str = "old", bound: int = 0) -> list[dict[str, str]]:
    """Rows of one season by peer: fitted at 4 s, of 1,000 asked for."""
    out = []
    for peer, short in fitted.items():
        row = fold(
            Case("S", 1.0, 1, peer, 15),
            [
                {"kind": "start", "demand": 1000},
                {"kind": "step", "at": 4.0, "short": short, "bound": bound, "fitted": True},
                {"kind": "end", "fitted": short, "missed": 0, "violations": 0, "fit_seconds": 0},
            ],
            "", 9,
        )  # fmt: skip
        out.append(dict.fromkeys(HEAD, "") | {k: str(v) for k, v in row.items()} | {"version": version})
    return out


def test_again() -> None:
    """What is to run again, the planner of another version, and fitting in other seconds have no row that counts."""
    cases = cases_of(["S:1"], [1], ["planner", "highs"], 15)
    rows = rows_of({"planner": 5, "highs": 5})
    assert missing(cases, rows, "old") == []
    assert [c.peer for c in missing(cases, rows, "old", ["planner"])] == ["planner"]
    assert [c.peer for c in missing(cases, rows, "new")] == ["planner"]
    assert [c.peer for c in missing(cases_of(["S:1"], [1], ["planner", "highs"], 15, 20), rows, "old")] == ["highs"]


def test_each_line_names_the_versions_that_it_was_run_at() -> None:
    """Two seasons run at two versions of the planner: each line says which."""
    rows = rows_of({"planner": 50, "highs": 60}) + [{**r, "season": "M"} for r in rows_of({"planner": 30}, "new")]
    lines = table.brief(rows).splitlines()
    assert [line.split("|")[-2].strip() for line in lines[2:4]] == ["old", "new"]
    assert "| M 1.0, 15 s | planner | new |" in table.full(rows)
    assert "Planner of commit new, old; others run at old." in table.full(rows)


def test_losses() -> None:
    """A peer is ahead where its median gap is smaller, at a checkpoint or the end; nothing is worse than anything."""
    ahead, behind = rows_of({"planner": 50, "highs": 40}, bound=10), rows_of({"planner": 50, "highs": 60})
    assert "Losses: S 1.0 at the end of 15 s: highs 3.00 %, planner 4.00 %." in table.brief(ahead)
    assert "another was ahead in 2 of 3 pairs" in table.brief(ahead)  # at 5 and 15 s, not at 2
    assert "S 1.0 at 5 s of 15 s: highs 3.00 %, planner 4.00 %" in table.full(ahead)
    assert "Losses: none in these rows." in table.full(behind)
    assert "- / 1.00 / 1.00 / - / 1.00" in table.full(ahead)  # what was proven by each checkpoint
    assert figures.middle([1.0, None, 3.0]) == 3.0
    assert figures.middle([1.0, None, None]) is None


def test_a_table_in_its_place(tmp_path: Path) -> None:
    """A table takes the place of what stands between its marks and leaves the rest."""
    page = tmp_path / "page.md"
    page.write_text("before\n<!-- benchmark -->\nold\n<!-- end of benchmark -->\nafter\n")
    table.put_into(page, "new")
    assert page.read_text() == "before\n<!-- benchmark -->\nnew\n<!-- end of benchmark -->\nafter\n"
    with pytest.raises(ValueError, match="no place for the table"):
        table.put_into(page, "new", "other")


def test_an_overrun_is_stopped() -> None:
    """A run that does not end is stopped, keeps no plan and says so."""
    row = measure(Case("L", 1.6, 1, "labelled", 1), 0.0, 1.0)
    assert str(row["note"]).startswith("stopped, did not end in time")
    assert row["fitted"] == ""


def test_fitting_heeds_its_limit() -> None:
    """Fitting what was wished ends when its seconds are over, and the row says that it was cut."""
    events: list[Event] = []
    run(Ground(seasons.tiny(3), 3, events.append, 0.001), "highs")
    row = fold(Case("tiny", 1, 3, "highs", 3, 1), events, "", 0)
    assert row["note"] == "fitting cut after 0 s"
    assert row["violations"] == 0


def test_plans_are_kept(tmp_path: Path) -> None:
    """A plan kept in a folder belongs to the season beside it."""
    run(Ground(seasons.tiny(3), 5, lambda _event: None), "planner", keep=tmp_path / "kept")
    plan, season = read_plan(tmp_path / "kept" / "plan.json"), read_season(tmp_path / "kept" / "season")
    assert plan.season == fingerprint(season)


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


def test_where_the_time_goes() -> None:
    """Every second of a plan is in one phase; what is inside another phase is counted there; nothing stays wrapped."""
    before = loop.fit_whole
    began = time.monotonic()
    phases, kinds = where_time_goes.plan(seasons.tiny(3), None)
    took = time.monotonic() - began
    assert took - 0.2 < sum(row[1] for row in phases.spent.values()) <= took
    assert {"bound", "fit days to the minute", "audit", "workbook, read back"} <= set(phases.spent)
    assert loop.fit_whole is before
    core = sum(row[2] for row in phases.spent.values())
    assert "| all |" in where_time_goes.phase_table(phases)
    assert "| everything else |" in where_time_goes.kind_table(kinds, core)


def test_a_meter_takes_off_what_is_inside() -> None:
    """Own seconds: 10 around, of which 4 belong to what was called."""
    now = [0.0]
    meter = where_time_goes.Meter((lambda: now[0],))
    with meter.under("outer"):
        now[0] += 3
        with meter.under("inner"):
            now[0] += 4
        now[0] += 3
    assert meter.spent == {"outer": [1, 6.0], "inner": [1, 4.0]}


def steps_row(season: str, step: str, bound: int = 0) -> dict[str, str]:
    """A planner's row with one step (seconds:short:bound:1) of 1,000 asked for."""
    short = step.split(":")[1]
    return rows_of({"planner": int(short)}, bound=bound)[0] | {"season": season, "limit": "180", "steps": step}


def test_growth() -> None:
    """6 weeks in 2 s and 26 weeks in 26 s: to the 1.75, more than 1.3; one size alone tells nothing."""
    two = table.Gaps([steps_row("S", "2.0:2:0:1"), steps_row("L", "26.0:4:0:1")])
    line = targets.growth(two, two.rows, "old")
    assert line["got"] == "to the 1.75 (within 0.5 %: 6 weeks 2.0 s, 26 weeks 26.0 s)"
    assert line["met"] == "no"
    one = table.Gaps([steps_row("S", "2.0:2:0:1")])
    assert targets.growth(one, one.rows, "old")["met"] == ""


def test_gap_targets() -> None:
    """Within so many per cent in so many seconds: too late is not met, though it is there later."""
    late = targets.from_rows(table.Gaps([steps_row("L", "70.0:4:0:1")]))
    (row, memory, _) = late
    assert (row["wanted"], row["met"]) == ("0.5 % from the bound in 60 s", "no")
    assert row["got"] == "no plan yet at 60 s; there after 70.0 s"
    assert memory["met"] == "yes"
    (soon, *_) = targets.from_rows(table.Gaps([steps_row("L", "50.0:4:0:1")]))
    assert soon["met"] == "yes"


def test_start_is_measured() -> None:
    """A command's start is measured in a process of its own; one that fails is no figure."""
    text, seconds, megabytes = targets.started([sys.executable, "-c", "print(1)"])
    assert (text, seconds > 0, megabytes > 3) == ("1\n", True, True)
    with pytest.raises(RuntimeError, match="ended with 3"):
        targets.started([sys.executable, "-c", "raise SystemExit(3)"])
