"""What a solve leaves behind."""

from __future__ import annotations

import subprocess
import sys

STOPPED_AFTER_A_SOLVE = """
import os, signal
from ortools.sat.python import cp_model
from scheduler.models.solvers.engine import solve
signal.signal(signal.SIGINT, signal.default_int_handler)  # a process in the background begins without it
model = cp_model.CpModel()
model.add(model.new_int_var(0, 9, "x") >= 3)
assert solve(model).status.solved
try:
    os.kill(os.getpid(), signal.SIGINT)
except KeyboardInterrupt:
    print("stopped by hand")
"""


def test_whoever_stops_a_plan_is_still_heard_after_a_solve() -> None:
    """CP-SAT would set the system's own way of ending a process in the place of Python's: no word would be said."""
    done = subprocess.run([sys.executable, "-c", STOPPED_AFTER_A_SOLVE], capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout.strip()) == (0, "stopped by hand")
