"""A season back to a workbook or a folder of CSV files, without loss either way."""

from __future__ import annotations

from pathlib import Path

from scheduler.season.read import read_season
from scheduler.season.safe_write import replace_atomically, replace_files_atomically
from scheduler.season.schema import TABLES
from scheduler.season.types import Season
from scheduler.season.values import records_of, write_csv_files


def write_season(season: Season, path: Path | str) -> None:
    """Write a season: a path that ends in .xlsx is a workbook, any other a folder of CSV files.

    What was written is read back and compared before it takes the place of what was there.
    Raises CannotWrite.
    """
    def check(written: Path) -> None:
        if read_season(written) != season:
            raise ValueError("the season read back differs")

    target = Path(path)
    if target.suffix.casefold() == ".xlsx":
        from scheduler.season.template import save_workbook  # late: openpyxl is slow to import

        replace_atomically(target, lambda file: save_workbook(season, file), check)
    else:
        content = {table.name: records_of(season, table) for table in TABLES}
        replace_files_atomically(target, lambda folder: write_csv_files(folder, content), check)
