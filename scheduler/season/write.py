"""A season back to a workbook or a folder of CSV files, without loss either way."""

from __future__ import annotations

from pathlib import Path

from scheduler.season.faults import SeasonFaults
from scheduler.season.read import other_sheets, read_season
from scheduler.season.safe_write import CannotWrite, replace_atomically, replace_files_atomically
from scheduler.season.schema import TABLES
from scheduler.season.types import Season
from scheduler.season.values import records_of, write_csv_files

NO_SEASON = (".csv", ".xls", ".xlsm", ".xlsb", ".ods", ".json", ".txt")  # a folder so called is a slip, not a wish


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


def refuse_to_lose(source: Path | None, target: Path, replace: bool = False) -> None:
    """Raise CannotWrite where a whole new season must not be written to ``target``; nothing may get lost unasked.

    ``replace`` was asked for by the person: then another season may go, but neither the season that is
    read from (``source``) nor a file that is no season, or holds sheets that are no tables of one.
    """
    if target.suffix.casefold() in NO_SEASON:
        raise CannotWrite(f"{target.name}: a season is a workbook that ends in .xlsx, or a folder; give such a name.")
    if not (target.is_file() or (target.is_dir() and any(target.glob("*.csv")))):
        return
    if source is not None and source.exists() and source.samefile(target):
        raise CannotWrite(f"{target} is the season itself; give what is to be written another name.")
    if not replace:
        hint = "" if source is None else ", or write --replace to give up what is in it"
        raise CannotWrite(f"{target} is there already and stays as it is; give another name{hint}.")
    try:
        lost = other_sheets(read_season(target)) if target.is_file() else ()
    except SeasonFaults as trouble:
        raise CannotWrite(
            f"{target} can't be read as a season, so it stays as it is ({trouble.faults[0]}) Give another name."
        ) from None
    if lost:
        raise CannotWrite(f"{target} also holds {', '.join(lost)}, which would be lost; it stays. Give another name.")
