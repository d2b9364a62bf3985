"""Every figure of trust, as tables: ``python -m tests.trust [--quick] [--write FILE] [topic ...]``.

Exits with 1 where anything did not hold. ``--quick`` tries a sample of everything in under 45 s.
"""

from __future__ import annotations

import argparse
import importlib
import resource
import sys
import time
from pathlib import Path

from tests.trust.table import Row, Table

TOPICS = (
    "sabotage", "wall", "bad_input", "faults", "privacy", "outside", "engines", "laws", "news", "answers",
    "rebalance", "suite",
)  # fmt: skip


def told(topic: str, quick: bool) -> Table:
    """The table of a topic; one that breaks off is a failure of its own and leaves the other topics alone."""
    try:
        table: Table = importlib.import_module(f"tests.trust.{topic}").table(quick)
    except Exception as trouble:
        row = Row("the topic was tried to its end")
        row.count(f"{type(trouble).__name__}: {trouble}"[:500])
        return Table(topic, [row])
    return table


def _core_seconds() -> float:
    """Seconds of a core that this process and its children have taken."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def main(arguments: list[str] | None = None) -> int:
    """Print the tables; 1 if anything failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.trust", description=__doc__)
    parser.add_argument("topics", nargs="*", metavar="topic", help=", ".join(TOPICS))
    parser.add_argument("--quick", action="store_true", help="a sample of everything, in under 45 s")
    parser.add_argument("--write", type=Path, help="write the tables to a file, too, topic by topic")
    asked = parser.parse_args(arguments)
    if unknown := set(asked.topics) - set(TOPICS):
        parser.error(f"no such topic: {', '.join(sorted(unknown))}; there are {', '.join(TOPICS)}")
    command = " ".join(["python -m tests.trust", *(["--quick"] if asked.quick else []), *asked.topics])
    out = ["# Figures of trust", "", f"Printed by `{command}`; nothing here was written by hand.", ""]
    failures: list[str] = []
    times = []
    for topic in asked.topics or TOPICS:
        began, core = time.monotonic(), _core_seconds()
        table = told(topic, asked.quick)
        times.append(f"{topic} {time.monotonic() - began:.0f} ({_core_seconds() - core:.0f})")
        failures += [f"{table.title}: {line}" for line in table.failures]
        out += table.lines()
        print("\n".join(table.lines()), flush=True)
        last = [f"FAILED {line}" for line in failures] or ["Everything held."]
        last += ["", f"Seconds by the clock (of a core): {', '.join(times)}"]
        if asked.write:
            asked.write.write_text("\n".join([*out, *last]) + "\n", encoding="utf-8")
    print("\n".join(last))
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
