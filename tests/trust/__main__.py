"""Every figure of trust, as tables: ``python -m tests.trust [--quick] [--write FILE] [topic ...]``.

Exits with 1 where anything did not hold. ``--quick`` tries a sample of everything in under 45 s.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import time
from pathlib import Path

from tests.trust.table import Table

TOPICS = (
    "sabotage", "wall", "bad_input", "faults", "privacy", "outside", "engines", "laws", "news", "answers",
    "rebalance", "suite",
)  # fmt: skip


def tables(topics: tuple[str, ...], quick: bool) -> list[tuple[Table, float]]:
    """The table of each topic, and the seconds that it took."""
    out = []
    for topic in topics:
        began = time.monotonic()
        table: Table = importlib.import_module(f"tests.trust.{topic}").table(quick)
        out.append((table, time.monotonic() - began))
        print("\n".join(table.lines()), flush=True)
    return out


def main(arguments: list[str] | None = None) -> int:
    """Print the tables; 1 if anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.trust", description=__doc__)
    parser.add_argument("topics", nargs="*", metavar="topic", help=", ".join(TOPICS))
    parser.add_argument("--quick", action="store_true", help="a sample of everything, in under 45 s")
    parser.add_argument("--write", type=Path, help="write the tables to a file, too")
    asked = parser.parse_args(arguments)
    if unknown := set(asked.topics) - set(TOPICS):
        parser.error(f"no such topic: {', '.join(sorted(unknown))}; there are {', '.join(TOPICS)}")
    found = tables(tuple(asked.topics) or TOPICS, asked.quick)
    failures = [f"{table.title}: {line}" for table, _ in found for line in table.failures]
    last = [f"FAILED {line}" for line in failures] or ["Everything held."]
    last.append("Seconds: " + ", ".join(f"{table.title} {seconds:.0f}" for table, seconds in found))
    print("\n".join(last))
    if asked.write:
        command = " ".join(["python -m tests.trust", *(["--quick"] if asked.quick else []), *asked.topics])
        head = ["# Figures of trust", "", f"Printed by `{command}`; nothing here was written by hand.", ""]
        body = [line for table, _ in found for line in table.lines()]
        asked.write.write_text("\n".join([*head, *body, *last]) + "\n", encoding="utf-8")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
