"""The tables of a season as a page to read, made from the one description of them."""

from __future__ import annotations

from scheduler.season.schema import KITCHEN, TABLES, Column, Table
from scheduler.season.values import cell_text

KIND_WORDS = {
    "text": "text",
    "list": "names with commas between them",
    "whole": "whole number",
    "hours": "hours, decimal",
    "minutes": "minutes, decimal",
    "money": "money",
    "day": "day",
    "clock": "clock time",
    "weekday": "day of the week",
    "yes": "yes or no",
}


def markdown() -> str:
    """Every table and column in Markdown: what it holds, whether it may be blank, an example."""
    parts = []
    for table in TABLES:
        needed = "" if table.needed else " May stay empty."
        first = "setting" if table is KITCHEN else "column"
        parts.append(f"### {table.name}\n\n{table.note}{needed}\n")
        parts.append(f"| {first} | holds | blank means | example | what it is |\n|---|---|---|---|---|")
        parts.append("\n".join(_line(table, column) for column in table.columns) + "\n")
    return "\n".join(parts)


def _line(table: Table, column: Column) -> str:
    if column.kind == "reference":
        holds = f"a name from {column.table}"
    elif column.kind == "choice":
        holds = ", ".join(column.choices)
    else:
        holds = KIND_WORDS[column.kind] + (f" ({column.unit})" if column.unit else "")
    blank = "must be filled in"
    if column.field in table.defaults:
        default = table.defaults[column.field]
        blank = "" if default is None else cell_text(column, default)
    return f"| {column.title} | {holds} | {blank} | {column.example} | {column.note} |"
