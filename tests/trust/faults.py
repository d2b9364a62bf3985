"""Things go wrong while planning and writing: what was there stays whole, and a plain word is said."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

from scheduler.answers.facts import Moment
from scheduler.answers.rebalance import Rebalance, rebalance
from scheduler.audit import audit
from scheduler.audit.wall.workbook import audit_workbook
from scheduler.models.search.loop import PlanOptions, plan_season
from scheduler.paper.workbook import write_workbook
from scheduler.pipeline import write_audited
from scheduler.plan.files import PlanFaults, read_plan, write_plan
from scheduler.plan.types import Plan
from scheduler.season.faults import SeasonFaults
from scheduler.season.read import read_season
from scheduler.season.safe_write import CannotWrite
from scheduler.season.types import Absence
from scheduler.season.write import write_season
from scheduler.take import take_choice
from tests.audit.sabotage import stage
from tests.handmade import handmade_plan, handmade_season
from tests.season_examples import SEASON
from tests.seasons import tiny
from tests.trust.killing import in_child, killed_everywhere
from tests.trust.table import Row, Table

OLD, NEW = handmade_plan(), stage(1, bound=0)(handmade_plan())
NEW_SEASON = replace(SEASON, orders=(replace(SEASON.orders[0], packs=21), *SEASON.orders[1:]))


def _file_whole(path: Path) -> str:
    """A plan file is the whole old or the whole new one."""
    try:
        return "" if read_plan(path) in (OLD, NEW) else "the plan file is neither the old nor the new plan"
    except PlanFaults as trouble:
        return str(trouble)


def _plan_whole(folder: Path) -> str:
    """The plan and the workbook are each the whole old or the whole new one, and the plan is never new alone."""
    if failure := _file_whole(folder / "plan.json"):
        return failure
    plan = read_plan(folder / "plan.json")
    if audit_workbook(handmade_season(), NEW, folder / "plan.xlsx") and (
        plan == NEW or audit_workbook(handmade_season(), OLD, folder / "plan.xlsx")
    ):
        return "the workbook is neither that of the old nor that of the new plan"
    return ""


def _season_whole(path: Path) -> str:
    try:
        return "" if read_season(path) in (SEASON, NEW_SEASON) else "the season is a mixture"
    except SeasonFaults as trouble:
        return str(trouble)


def killed(quick: bool, place: Path) -> list[Row]:
    """Killed while writing a plan, its workbook, a season's workbook, a season's folder."""
    folder, season = place / "kill", handmade_season()
    rows = [Row("killed while writing plan and workbook"), Row("killed while writing a plan file"),
            Row("killed while writing a season workbook"), Row("killed while writing a season folder")]  # fmt: skip
    most = (1, 2, 1, 2) if quick else (25, 20, 20, 25)

    def old() -> None:
        write_plan(OLD, folder / "plan.json")
        write_workbook(season, OLD, folder / "plan.xlsx")

    killed_everywhere(rows[0], old, lambda: write_audited(season, NEW, folder), lambda: _plan_whole(folder), most[0])
    file = folder / "plan.json"
    killed_everywhere(rows[1], lambda: None, lambda: write_plan(NEW, file), lambda: _file_whole(file), most[1])
    for row, name, count in ((rows[2], "s.xlsx", most[2]), (rows[3], "s", most[3])):
        path = place / name
        killed_everywhere(row, lambda p=path: write_season(SEASON, p), lambda p=path: write_season(NEW_SEASON, p),
                lambda p=path: _season_whole(p), count)
    return rows


def _after_news(place: Path) -> Rebalance:
    """A small kitchen on the disk with its plan, and the choices after somebody fell ill."""
    season = tiny(3, days=5, people=3, orders=6)
    plan = plan_season(season, PlanOptions(effort=0.3))
    write_season(season, place / "season")
    write_plan(plan, place / "plan.json")
    day = next(d for d in plan.days if d.batches)
    return rebalance(season, plan, Moment(day.day), [Absence(day.shifts[0].person, day.day, day.day)])


def killed_taking(quick: bool, place: Path) -> Row:
    """Killed while a choice is taken: plan and season as they were, and a folder that holds a plan is whole."""
    row, taken = Row("killed while taking a choice after news", note="old plan and season as they were"), place / "new"
    found = _after_news(place)
    old = {f: f.read_bytes() for f in place.rglob("*") if f.is_file()}

    def whole() -> str:
        if any(f.read_bytes() != content for f, content in old.items()):
            return "the old plan or season was written over"
        if not (taken / "plan.json").exists():
            return ""
        try:
            violations = audit(read_season(taken / "season"), read_plan(taken / "plan.json"))
        except (PlanFaults, SeasonFaults) as trouble:
            return str(trouble)
        return str(violations[0]) if violations else ""

    def take() -> object:
        return take_choice(found, 1, place / "season", "season", taken)

    killed_everywhere(row, lambda: shutil.rmtree(taken, ignore_errors=True), take, whole, 1 if quick else 40)
    return row


# Disks and folders -------------------------------------------------------------------


def _targets(place: Path) -> dict[str, tuple[Callable[[], object], Callable[[], object], Callable[[], str]]]:
    """Name -> (write the old one, write the new one, what is wrong with what is there)."""
    season, folder = handmade_season(), place / "disk"

    def old() -> None:
        write_plan(OLD, folder / "plan.json")
        write_workbook(season, OLD, folder / "plan.xlsx")

    out = {"plan and workbook": (old, lambda: write_audited(season, NEW, folder), lambda: _plan_whole(folder))}
    for name in ("s.xlsx", "s"):
        path = place / "disk" / name
        out[name] = (
            lambda p=path: write_season(SEASON, p),
            lambda p=path: write_season(NEW_SEASON, p),
            lambda p=path: _season_whole(p),
        )
    return out


def full_disk(quick: bool, place: Path) -> Row:
    """The disk takes so many bytes of a file and no more, then (as a disk does) says that it is full."""
    row = Row("disk full after so many bytes", note="file size limit, and ENOSPC at the last moment")
    for name, (reset, work, whole) in _targets(place).items():
        for size in (0, 1, 700, 3000)[2 if quick else 0 :: 2 if quick else 1]:
            reset()

            def short(work: Callable[[], object] = work, size: int = size) -> None:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
                work()

            row.count(_refused(f"{name} at {size}", in_child(short), whole, ("could not be written",)))
        reset()

        def at_the_end(work: Callable[[], object] = work) -> None:
            def full(_: int) -> None:
                raise OSError(errno.ENOSPC, "No space left on device")

            os.fsync = full
            work()

        row.count(_refused(f"{name} at the end", in_child(at_the_end), whole, ("The disk is full",)))
    return row


def _refused(what: str, ended: tuple[int, str], whole: Callable[[], str], words: tuple[str, ...]) -> str | None:
    code, said = ended
    small_enough = code == 0 and "at the end" not in what
    if not small_enough and (code != 3 or not any(word in said for word in words)):
        return f"{what}: ended with {code}: {said[:200]}"
    failure = whole()
    return f"{what}: {failure}" if failure else None


def read_only(place: Path) -> Row:
    """A folder that may not be written, as a user without rights: said, and the content kept elsewhere."""
    row = Row("read-only folder", note="as a user without rights")
    folder = place / "shut"
    write_plan(OLD, folder / "plan.json")
    write_workbook(handmade_season(), OLD, folder / "plan.xlsx")
    for parent in (folder, *folder.parents):
        if parent == Path(tempfile.gettempdir()):
            break
        parent.chmod(0o755)
    folder.chmod(0o555)

    def as_nobody() -> None:
        if os.getuid() == 0:
            os.setuid(65534)
        write_plan(NEW, folder / "plan.json")

    row.count(_refused("plan", in_child(as_nobody), lambda: _plan_whole(folder), ("is read-only",)))
    folder.chmod(0o755)
    for kept in Path(tempfile.gettempdir()).glob("plan (*).json"):
        if read_plan(kept) == NEW:
            kept.unlink()
    return row


def open_elsewhere(place: Path) -> Row:
    """Open in a spreadsheet program: the old file stays, the new content has a second name."""
    row = Row("target open in another program", note="second name kept")
    for lock in (".~lock.plan.xlsx#", "~$plan.xlsx"):
        folder = place / f"open {lock[:3]}"
        write_plan(OLD, folder / "plan.json")
        write_workbook(handmade_season(), OLD, folder / "plan.xlsx")
        before = (folder / "plan.xlsx").read_bytes()
        (folder / lock).write_text("")
        try:
            write_audited(handmade_season(), NEW, folder)
            row.count(f"{lock}: nothing was said")
        except CannotWrite as no:
            good = no.kept is not None and not audit_workbook(handmade_season(), NEW, no.kept)
            same = (folder / "plan.xlsx").read_bytes() == before and read_plan(folder / "plan.json") == OLD
            row.count(None if good and same and "close it and try again" in str(no) else f"{lock}: {no}")
    return row


# Solvers that fail -------------------------------------------------------------------


@cache
def _small() -> object:
    return tiny(1, days=4, people=2, designs=2, orders=3)


def solvers(quick: bool) -> list[Row]:
    """Out of time, out of memory, or dying: the best plan so far, or a plain word; never a bad plan."""
    from scheduler.models.solvers import engine

    season = _small()
    calls = [0]
    real = engine.solve

    def counted(*args: object, **more: object) -> object:
        calls[0] += 1
        return real(*args, **more)  # type: ignore[arg-type]

    options = PlanOptions(effort=0.05)
    _with_solver(counted, lambda: plan_season(season, options))  # type: ignore[arg-type]
    most = max(2, calls[0])
    points = [most // 2] if quick else sorted({most * i // 8 for i in range(8)})
    rows = [Row("solver finds nothing from some solve on", note="best plan so far, sound"),
            Row("solver out of memory at some solve", note="a plain word, nothing written"),
            Row("solver kills its process at some solve", note="old files whole"),
            Row("a clock limit of a second", note="a sound plan")]  # fmt: skip
    for point in points:
        rows[0].count(_still_plans(season, point))
        rows[1].count(_says_so(season, point))
        rows[2].count(_leaves_all(season, point))
    plan = plan_season(season, PlanOptions(effort=50, seconds=1))  # type: ignore[arg-type]
    rows[3].count(_sound(season, plan))
    return rows


def _with_solver(solver: Callable[..., object], work: Callable[[], object]) -> object:
    """Do something with another solver in the engine's place, wherever a module has taken it from there."""
    from scheduler.models.solvers import engine

    real = engine.solve
    models = [m for name, m in list(sys.modules.items()) if name.startswith("scheduler.models")]
    users = [m for m in models if getattr(m, "solve", None) is real]
    for module in users:
        module.solve = solver  # type: ignore[attr-defined]
    try:
        return work()
    finally:
        for module in users:
            module.solve = real  # type: ignore[attr-defined]


def _failing(point: int, fail: Callable[[], object]) -> Callable[..., object]:
    from scheduler.models.solvers import engine

    real, calls = engine.solve, [0]

    def solve(*args: object, **more: object) -> object:
        calls[0] += 1
        return fail() if calls[0] > point else real(*args, **more)  # type: ignore[arg-type]

    return solve


def _sound(season: object, plan: object) -> str | None:
    found = audit(season, plan)  # type: ignore[arg-type]
    return str(found[0]) if found else None


def _still_plans(season: object, point: int) -> str | None:
    """From that solve on the solver answers UNKNOWN, as out of time: the plan is sound all the same."""
    from scheduler.models.solvers.engine import Answer, Status

    nothing = lambda: Answer(Status.UNKNOWN, None, None, None)  # noqa: E731
    try:
        plan = _with_solver(_failing(point, nothing), lambda: plan_season(season, PlanOptions(effort=0.05)))  # type: ignore[arg-type]
    except Exception as trouble:
        return f"from solve {point}: {type(trouble).__name__}: {trouble}"
    failure = _sound(season, plan)
    return f"from solve {point}: {failure}" if failure else None


def _plan_command(season: object, folder: Path, fail: Callable[[], object], point: int) -> tuple[int, str]:
    from scheduler.cli import app
    from typer.testing import CliRunner

    write_season(season, folder / "season")  # type: ignore[arg-type]
    write_plan(OLD, folder / "out" / "plan.json")
    write_workbook(handmade_season(), OLD, folder / "out" / "plan.xlsx")
    words = ["plan", str(folder / "season"), "--out", str(folder / "out"), "--effort", "0.05"]

    def work() -> None:
        done = _with_solver(_failing(point, fail), lambda: CliRunner().invoke(app, words))
        raise RuntimeError(f"{done.exit_code} {done.stderr}")  # type: ignore[attr-defined]

    return in_child(work)


def _says_so(season: object, point: int) -> str | None:
    def no_memory() -> None:
        raise MemoryError

    with tempfile.TemporaryDirectory() as name:
        code, said = _plan_command(season, Path(name), no_memory, point)
        if code != 4 or ("5 This machine has too little memory" not in said and "RuntimeError: 0 " not in said):
            return f"at solve {point}: ended with {code}: {said[-200:]}"
        if "RuntimeError: 0 " in said:  # another plan took its place, whole
            return None
        failure = _plan_whole(Path(name) / "out")
        return f"at solve {point}: {failure}" if failure else None


def _leaves_all(season: object, point: int) -> str | None:
    with tempfile.TemporaryDirectory() as name:
        code, said = _plan_command(season, Path(name), lambda: os.kill(os.getpid(), signal.SIGKILL), point)
        if code != -signal.SIGKILL:
            return None if "RuntimeError: 0 " in said else f"at solve {point}: {code} {said[-200:]}"
        failure = _plan_whole(Path(name) / "out")
        return f"at solve {point}: {failure}" if failure else None


DYING = """
import os, sys
from scheduler.models.solvers import engine
real, left = engine.solve, [int(sys.argv.pop(1))]
number = int(sys.argv.pop(1))
def solve(*args, **more):
    left[0] -= 1
    if left[0] < 0:
        os.kill(os.getpid(), number)
    return real(*args, **more)
from scheduler.models.search import loop
for name, module in list(sys.modules.items()):
    if name.startswith("scheduler.models") and getattr(module, "solve", None) is real:
        module.solve = solve
from scheduler.cli import main
main()
"""


def dying(quick: bool, place: Path) -> list[Row]:
    """The command as it is typed: its search is ended by a signal, or has not enough memory. A plain word is said."""
    rows = [Row("the search's own process is ended", note="a plain word, exit 5, old files whole"),
            Row("memory really runs out", note="a plain word or a sound plan, old files whole")]  # fmt: skip
    folder = place / "dying"
    write_season(_small(), folder / "season")  # type: ignore[arg-type]
    write_plan(OLD, folder / "out" / "plan.json")
    write_workbook(handmade_season(), OLD, folder / "out" / "plan.xlsx")
    words = ["plan", str(folder / "season"), "--out", str(folder / "out"), "--effort", "0.05"]
    for number in (signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT)[:: 3 if quick else 1]:
        for point in (0, 5)[:: 2 if quick else 1]:
            done = _typed(["-c", DYING, str(point), str(int(number)), *words])
            said = done.returncode == 5 and done.stderr.startswith("The search was ended") and not done.stdout
            failure = _plan_whole(folder / "out") if said else f"ended with {done.returncode}: {done.stderr[-200:]}"
            rows[0].count(f"signal {number} at solve {point}: {failure}" if failure else None)
    for megabytes in (300, 340, 360, 390)[:: 4 if quick else 1]:
        done = _typed(["-m", "scheduler.cli", *words], megabytes * 1_000_000)
        plain = done.returncode == 5 and ("memory" in done.stderr and len(done.stderr.splitlines()) == 1)
        failure = "" if plain or done.returncode == 0 else f"ended with {done.returncode}: {done.stderr[-200:]}"
        if done.returncode == 0:
            found = audit(_small(), read_plan(folder / "out" / "plan.json"))  # type: ignore[arg-type]
            failure = str(found[0]) if found else ""
            write_plan(OLD, folder / "out" / "plan.json")
            write_workbook(handmade_season(), OLD, folder / "out" / "plan.xlsx")
        failure = failure or _plan_whole(folder / "out")
        rows[1].count(f"{megabytes} MB: {failure}" if failure else None)
    return rows


def _typed(words: list[str], memory: int = 0) -> subprocess.CompletedProcess[str]:
    """Python with some words, in a process of its own with so much memory (0: all)."""

    def capped() -> None:
        if memory:
            resource.setrlimit(resource.RLIMIT_AS, (memory, memory))

    return subprocess.run(
        [sys.executable, *words], cwd=Path(__file__).parents[2], capture_output=True, text=True,
        preexec_fn=capped, timeout=300,
    )  # fmt: skip


def table(quick: bool) -> Table:
    """All of it in a folder of its own."""
    assert isinstance(OLD, Plan)
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        place.chmod(0o755)
        rows = [*killed(quick, place), killed_taking(quick, place / "news"), full_disk(quick, place)]
        rows += [read_only(place), open_elsewhere(place)]
        rows += [*solvers(quick), *dying(quick, place)]
    return Table("Faults: killed, no room, no right, no answer", rows, ("tried", "nothing lost"))
