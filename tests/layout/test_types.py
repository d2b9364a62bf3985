"""Types are strict on the whole package, and style is clean."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("words", [("mypy",), ("ruff", "check", "scheduler")], ids=["types", "style"])
def test_the_package_is_clean(words: tuple[str, ...]) -> None:
    """``mypy --strict`` and ``ruff check`` find nothing in scheduler/."""
    done = subprocess.run([sys.executable, "-m", *words], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-500:]
