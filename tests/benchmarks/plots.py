"""Pictures of the benchmark in ``reports/``: ``python -m tests.benchmarks.plots`` draws all from the rows."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from pathlib import Path
from statistics import median

import matplotlib

matplotlib.use("Agg")
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter
from tests.benchmarks.cases import PEERS, WHOLE, Row, read_rows
from tests.benchmarks.figures import Place, curve, peers, places, seconds_to
from tests.benchmarks.generate import SIZES
from tests.benchmarks.table import Gaps

REPORTS = Path("reports")
COLOURS = (
    "#c0392b", "#8a6d1f", "#8e8e8e", "#2471a3", "#1e8449", "#af7ac5",
    "#5dade2", "#27ae60", "#82c99b", "#d7bde2", "#0b5345",
)  # fmt: skip
TO = 1.0  # per cent of the demand: "near" in the picture by weeks
MOMENTS = [0.5 * 1.04**i for i in range(160)]  # seconds, from half a second to four minutes


def gap_over_time(rows: Sequence[Row], path: Path) -> None:
    """One panel a season: what is short beyond the proven least, as time goes by."""
    gaps = Gaps(rows)
    where = places(gaps.rows)
    columns = min(2, len(where))
    deep = -(-len(where) // columns)
    figure, axes = plt.subplots(deep, columns, figsize=(6.2 * columns, 3.9 * deep + 1.2), squeeze=False)
    for axis, place in itertools.zip_longest(axes.flat, where):
        if place is None:
            axis.set_visible(False)
        else:
            _panel(axis, gaps, place)
    handles = [
        plt.Line2D([], [], color=_colour(p), lw=3 if p == "planner" else 1.6, ls=_dash(p), label=PEERS[p])
        for p in peers(gaps.rows)
    ]
    audited = "when the plan was there: fitted to the minute, audited"
    handles.append(plt.Line2D([], [], color="#444", ls="--", label="dashed: hoped for, not yet fitted to the minute"))
    handles.append(plt.Line2D([], [], color="#444", marker="o", ls="", label=audited))
    figure.suptitle("How much stays short beyond what no plan can avoid", fontsize=14, weight="bold")
    figure.legend(handles=handles, loc="lower center", ncol=2, frameon=False, fontsize=9)
    below = (0.3 + 0.24 * -(-len(handles) // 2)) / figure.get_figheight()
    figure.tight_layout(rect=(0, below, 1, 0.98))
    figure.savefig(path, dpi=110)
    plt.close(figure)


def _panel(axis: Axes, gaps: Gaps, place: Place) -> None:
    size = SIZES.get(place[0])
    weeks = f"{size.weeks} weeks, {size.people} people, {size.orders} orders" if size else "a tiny kitchen"
    axis.set_title(f"{weeks}; asked for {100 * float(place[1]):.0f} % of what it can make; {place[2]} s", fontsize=9)
    for peer in peers(gaps.rows):
        rows = gaps.of(place, peer)
        curves = [c for r in rows if (c := curve(r, gaps.bound(r)))]
        points = [(t, median(known)) for t in MOMENTS if rows and len(known := _known(curves, t)) == len(rows)]
        there = [_there(r) for r in rows if r["fitted"] and r["seconds"]]
        last = median(there) if there else max((float(r["limit"]) for r in rows), default=0)
        points = [(t, v) for t, v in points if t <= last]
        mine = peer == "planner"
        if points:
            axis.step(*zip(*points, strict=True), where="post", color=_colour(peer), ls=_dash(peer),
                      lw=3 if mine else 1.6, zorder=3 if mine else 2)  # fmt: skip
        ends = [v for v in gaps.values(place, peer, "fitted") if v is not None]
        if there and ends:
            axis.plot([last], [median(ends)], "o", color=_colour(peer), ms=10 if mine else 7, zorder=5 if mine else 4)
    axis.set_xscale("log")
    axis.set_yscale("symlog", linthresh=1)
    axis.set_ylim(-0.05, 110)
    axis.set_yticks([0, 1, 2, 5, 10, 20, 50, 100])
    axis.yaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:.0f} %"))
    axis.set_xlim(0.5, 240)
    axis.set_xticks([1, 2, 5, 15, 60, 180])
    axis.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:.0f} s"))
    axis.xaxis.set_minor_formatter(FuncFormatter(lambda _v, _: ""))
    axis.set_xlabel("seconds of computing")
    axis.set_ylabel("short, share of the demand")
    axis.grid(alpha=0.3)


def _there(row: Row) -> float:
    """Seconds until the fitted plan of a run was there."""
    return float(row["seconds"]) + float(row["fit_seconds"] or 0)


def _known(curves: Sequence[Sequence[tuple[float, float]]], moment: float) -> list[float]:
    """What each run had by a moment."""
    return [values[-1] for c in curves if (values := [v for at, v in c if at <= moment])]


def time_by_weeks(rows: Sequence[Row], path: Path) -> None:
    """Seconds until a plan is near the proven least, by the weeks of the season."""
    gaps = Gaps(rows)
    figure, axis = plt.subplots(figsize=(7.5, 5.2))
    for peer in peers(gaps.rows):
        points = []
        for name, size in SIZES.items():
            here = [r for r in gaps.rows if r["season"] == name and r["peer"] == peer]
            known = [t for r in here if (t := seconds_to(r, gaps.bound(r), TO)) is not None]
            if known and 2 * len(known) >= len(here):
                points.append((size.weeks, max(0.1, median(known))))
        if points:
            axis.plot(*zip(*points, strict=True), marker="o", color=_colour(peer), ls=_dash(peer), label=PEERS[peer],
                      lw=3 if peer == "planner" else 1.6)  # fmt: skip
    axis.set_xscale("log")
    axis.set_yscale("log")
    axis.set_xticks([s.weeks for s in SIZES.values()])
    axis.xaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:.0f} weeks"))
    axis.xaxis.set_minor_formatter(FuncFormatter(lambda _v, _: ""))
    axis.yaxis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g} s"))
    axis.set_xlim(5, 60)
    axis.set_ylim(0.3, 200)
    axis.set_title(f"Seconds until less than {TO:g} % more is short than in the best plan possible", fontsize=11)
    axis.set_xlabel("length of the season (runs that never came so near are left out)")
    axis.grid(alpha=0.3, which="both")
    if axis.get_legend_handles_labels()[0]:
        axis.legend(fontsize=8, frameon=False, loc="upper center", bbox_to_anchor=(0.5, -0.14), ncol=1)
    else:
        axis.text(0.5, 0.5, "none of these runs came so near", transform=axis.transAxes, ha="center")
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    plt.close(figure)


def _colour(peer: str) -> str:
    return COLOURS[list(PEERS).index(peer)]


def _dash(peer: str) -> str:
    """Solid for what is fitted to the minute on the way, dashed for what is only hoped for."""
    return "-" if peer in WHOLE else "--"


def main() -> None:
    """Draw both pictures."""
    rows = read_rows()
    gap_over_time(rows, REPORTS / "benchmark-gap.png")
    time_by_weeks(rows, REPORTS / "benchmark-weeks.png")


if __name__ == "__main__":
    main()
