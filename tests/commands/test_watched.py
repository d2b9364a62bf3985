"""The search in a process of its own: what becomes of its end, in code and words."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

HEAD = "import os, signal, sys, time; from scheduler.watched import watched; "


def typed(work: str, head: str = HEAD) -> subprocess.CompletedProcess[str]:
    code = f"{head}\ndef work():\n    {work}\nwatched(work, 5)"
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=Path(__file__).parents[2], timeout=60
    )


@pytest.mark.parametrize(("work", "code"), [("sys.exit(0)", 0), ("sys.exit(7)", 7), ("print('done')", 0)])
def test_a_search_that_ends_by_itself_ends_so(work: str, code: int) -> None:
    """Its exit code is that of the command, and nothing is added to what it says."""
    done = typed(work)
    assert (done.returncode, done.stderr) == (code, "")
    assert done.stdout == ("done\n" if "print" in work else "")


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSEGV, signal.SIGABRT])
def test_a_search_that_is_ended_leaves_a_plain_word(number: signal.Signals) -> None:
    """Ended by the system or by a library: exit 5 and one sentence."""
    done = typed(f"os.kill(os.getpid(), {int(number)})")
    assert done.returncode == 5
    assert done.stderr.startswith("The search was ended by the system, most often because memory ran out.")


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux ends a child with its parent")
def test_no_search_outlives_its_command(tmp_path: Path) -> None:
    """The command is killed: the child does not go on alone."""
    note = tmp_path / "child"
    code = f"{HEAD}watched(lambda: (open({str(note)!r}, 'w').write(str(os.getpid())), time.sleep(60)), 5)"
    command = subprocess.Popen([sys.executable, "-c", code], cwd=Path(__file__).parents[2])
    while not (note.exists() and note.read_text()):
        time.sleep(0.05)
    command.kill()
    command.wait()
    for _ in range(100):
        try:
            os.kill(int(note.read_text()), 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    pytest.fail("the child goes on")


@pytest.mark.skipif(not os.path.exists("/proc/self/task"), reason="Linux tells what a process does")
@pytest.mark.parametrize(
    ("work", "code"),
    [
        ("time.sleep(60)", 5),
        ("sum(range(50_000_000)); sys.exit(4)", 4),
        ("os.fork() or time.sleep(60); os.wait()", 5),
    ],
)
def test_a_search_that_hangs_is_ended(work: str, code: int) -> None:
    """Nothing done for three looks: ended with a word, with what it started; one that works is left alone."""
    done = typed(work, f"{HEAD}import scheduler.watched as w; w.LOOKS, w.EVERY = 3, 0.2")
    assert done.returncode == code
    assert ("memory ran out" in done.stderr) == (code == 5)
