"""A short name for a season's content: the same rows give the same name, in any order."""

from __future__ import annotations

import hashlib
import json
from dataclasses import fields
from typing import Any

from scheduler.season.types import Season

# Tables, and a column, with which no plan is right or wrong: where they change, it is as good as it was.
BESIDE = frozenset({"prices", "materials", "uses", "spare_batches"})
ORDERED = frozenset({"stages"})  # the only table whose order of rows means something


def fingerprint(season: Season) -> str:
    """First 16 hex digits of the SHA-256 of all tables that a plan depends on; row order counts only in ``stages``.

    Example: swapping two orders keeps it, one pack more changes it.
    """
    tables: dict[str, list[str]] = {}
    for table in fields(season):
        if table.name in BESIDE:
            continue
        content = getattr(season, table.name)
        rows = [_row(record) for record in (content if isinstance(content, tuple) else (content,))]
        tables[table.name] = rows if table.name in ORDERED else sorted(rows)
    text = json.dumps(tables, sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _row(record: Any) -> str:
    """A row as JSON, without columns that stand beside the plan."""
    values = [getattr(record, column.name) for column in fields(record) if column.name not in BESIDE]
    return json.dumps(values, default=str, ensure_ascii=False)
