"""A workbook of a season and its plan, read back for the tests."""

from __future__ import annotations

import io

from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet
from scheduler.paper.workbook import workbook_bytes
from scheduler.plan.types import Plan
from scheduler.season.types import Season


def read(season: Season, plan: Plan, **kwargs: object) -> Workbook:
    return load_workbook(io.BytesIO(workbook_bytes(season, plan, **kwargs)))  # type: ignore[arg-type]


def texts(ws: Worksheet) -> list[str]:
    return [str(c.value) for row in ws.iter_rows() for c in row if c.value is not None]
