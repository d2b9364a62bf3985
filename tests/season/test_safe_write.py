"""Whatever happens while writing: the old file is whole, or the new one is, and nothing is lost."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from scheduler.season.read import read_season
from scheduler.season.safe_write import CannotWrite, finish_move, replace_atomically
from scheduler.season.types import Season
from scheduler.season.write import write_season
from tests.season_examples import SEASON

NEW = replace(SEASON, orders=(replace(SEASON.orders[0], packs=21), *SEASON.orders[1:]))


def writer(text: str):  # type: ignore[no-untyped-def]
    return lambda path: path.write_text(text)


def test_the_new_content_takes_the_name(tmp_path: Path) -> None:
    """A file is made where there was none, then replaced; its rights stay and nothing else is left."""
    target = tmp_path / "deep" / "plan.json"
    replace_atomically(target, writer("one"))
    target.chmod(0o640)
    replace_atomically(target, writer("two"), lambda path: None)
    assert target.read_text() == "two"
    assert target.stat().st_mode & 0o777 == 0o640
    assert list(target.parent.iterdir()) == [target]


def test_a_reader_of_the_old_file_keeps_it(tmp_path: Path) -> None:
    """The old content is never written over: whoever has it open reads on to its end."""
    target = tmp_path / "plan.json"
    replace_atomically(target, writer("the whole old plan"))
    with open(target) as reader:
        assert reader.read(3) == "the"
        replace_atomically(target, writer("new"))
        assert reader.read() == " whole old plan"


def test_a_failing_check_keeps_the_old_file(tmp_path: Path) -> None:
    """Content that does not read back never takes the name."""
    target = tmp_path / "plan.json"
    replace_atomically(target, writer("one"))

    def check(path: Path) -> None:
        raise ValueError("not what it should be")

    with pytest.raises(CannotWrite, match="could not be read back, so nothing was changed"):
        replace_atomically(target, writer("two"), check)
    assert target.read_text() == "one"
    assert list(tmp_path.iterdir()) == [target]


def test_an_error_while_writing_leaves_nothing_behind(tmp_path: Path) -> None:
    """An interruption by the keyboard keeps the old file and removes the half-written one."""
    target = tmp_path / "plan.json"
    replace_atomically(target, writer("one"))

    def stopped(path: Path) -> None:
        path.write_text("tw")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        replace_atomically(target, stopped)
    assert target.read_text() == "one"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("lock", [".~lock.plan.xlsx#", "~$plan.xlsx"])
def test_a_target_that_is_open_elsewhere(tmp_path: Path, lock: str) -> None:
    """A spreadsheet program that has the file open would write over it later: a second name is used."""
    target = tmp_path / "plan.xlsx"
    replace_atomically(target, writer("one"))
    (tmp_path / lock).write_text("")
    sentence = (
        r'"plan.xlsx" is open in a spreadsheet program; close it and try again .* '
        r'What was to be written is kept as "plan \(2\).xlsx".'
    )
    with pytest.raises(CannotWrite, match=sentence) as caught:
        replace_atomically(target, writer("two"))
    assert target.read_text() == "one"
    assert caught.value.kept == tmp_path / "plan (2).xlsx"
    assert caught.value.kept.read_text() == "two"
    with pytest.raises(CannotWrite, match=r'kept as "plan \(3\).xlsx"'):
        replace_atomically(target, writer("three"))


def test_a_file_marked_read_only(tmp_path: Path) -> None:
    """A read-only mark is respected although the folder would let the file be replaced."""
    target = tmp_path / "plan.xlsx"
    replace_atomically(target, writer("one"))
    target.chmod(0o444)
    with pytest.raises(CannotWrite, match=r'"plan.xlsx" is marked read-only. .* kept as "plan \(2\).xlsx"'):
        replace_atomically(target, writer("two"))
    assert target.read_text() == "one"


def test_a_folder_in_the_way(tmp_path: Path) -> None:
    """The name of a folder is no name for a file."""
    (tmp_path / "plan.xlsx").mkdir()
    with pytest.raises(CannotWrite, match='"plan.xlsx" is a folder; give the name of a file'):
        replace_atomically(tmp_path / "plan.xlsx", writer("two"))


def test_a_read_only_folder() -> None:
    """In a folder that may not be written the content is kept in the temporary folder (as a user without rights)."""
    folder = Path(tempfile.mkdtemp())
    target = folder / "plan.txt"
    target.write_text("one")
    folder.chmod(0o555)
    heard, say = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            if os.getuid() == 0:
                os.setuid(65534)  # the rights of nobody: root may write anywhere
            replace_atomically(target, writer("two"))
        except CannotWrite as no:
            assert no.kept is not None
            os.write(say, f"{no}\n{no.kept.read_text()}".encode())
            no.kept.unlink()
        finally:
            os._exit(0)
    os.waitpid(pid, 0)
    os.close(say)
    sentence, content = os.read(heard, 5000).decode().rsplit("\n", 1)
    os.close(heard)
    folder.chmod(0o755)
    assert sentence.startswith(
        f'The folder "{folder}" is read-only: "plan.txt" could not be written. What was to be written is kept as "'
    )
    assert (target.read_text(), content) == ("one", "two")
    shutil.rmtree(folder)


def test_a_full_disk(tmp_path: Path) -> None:
    """A full disk is said to be full, and the old file stays."""
    target = tmp_path / "plan.xlsx"
    replace_atomically(target, writer("one"))

    def full(path: Path) -> None:
        path.write_text("tw")
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(CannotWrite, match='^The disk is full: "plan.xlsx" could not be written. Nothing was changed.$'):
        replace_atomically(target, full)
    assert target.read_text() == "one"
    assert list(tmp_path.iterdir()) == [target]


def test_a_full_disk_and_a_folder_of_tables(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same for a season's folder: no table is changed."""
    write_season(SEASON, tmp_path / "s")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWrite, match='The disk is full: "s" could not be written. Nothing was changed.'):
        write_season(NEW, tmp_path / "s")
    monkeypatch.undo()
    assert read_season(tmp_path / "s") == SEASON


def test_other_files_of_the_folder_stay(tmp_path: Path) -> None:
    """Writing a season into a folder touches only the tables."""
    folder = tmp_path / "s"
    write_season(SEASON, folder)
    (folder / "letter.txt").write_text("mine")
    write_season(NEW, folder)
    assert read_season(folder) == NEW
    assert (folder / "letter.txt").read_text() == "mine"
    assert not [p.name for p in folder.iterdir() if p.name.startswith(".")]



def held_open(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """A file of this name can't be replaced, as if another program held it (where systems refuse that)."""
    move = os.replace

    def refused(source: Path, target: Path) -> None:
        if Path(target).name == name:
            raise PermissionError(errno.EACCES, "Permission denied", str(source), None, str(target))
        move(source, target)

    monkeypatch.setattr(os, "replace", refused)


def test_a_table_that_is_open_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The new season is written and read, and it is said so; the open table takes its place the next time."""
    folder, later = tmp_path / "s", replace(NEW, prices=())
    write_season(SEASON, folder)
    held_open(monkeypatch, "orders.csv")
    sentence = '^"orders.csv" could not be replaced; .* close it without saving and try again. All is written'
    with pytest.raises(CannotWrite, match=sentence) as caught:
        write_season(NEW, folder)
    waiting = folder / ".ready"
    assert (caught.value.kept, [p.name for p in waiting.iterdir()]) == (waiting, ["orders.csv"])
    assert read_season(folder) == NEW
    with pytest.raises(CannotWrite, match="close it without saving and try again. Nothing new was written.$"):
        write_season(later, folder)
    assert read_season(folder) == NEW
    with pytest.raises(CannotWrite, match="All is written"):
        finish_move(folder)
    monkeypatch.undo()
    old = (folder / "orders.csv").read_bytes()
    finish_move(folder)
    assert not waiting.exists() and (folder / "orders.csv").read_bytes() != old
    assert read_season(folder) == NEW
    finish_move(folder)
    write_season(later, folder)
    assert read_season(folder) == later


def _killed_at(point: int, season: Season, path: Path) -> bool:
    """Write in a child process that kills itself at its n-th look at the disk; True if it was killed."""
    pid = os.fork()
    if pid == 0:
        left = [point]

        def watch(event: str, _: object) -> None:
            if event in ("open", "os.rename", "os.mkdir", "os.rmdir", "os.remove", "os.listdir", "os.chmod"):
                left[0] -= 1
                if left[0] < 0:
                    os._exit(9)

        sys.addaudithook(watch)
        try:
            write_season(season, path)
        finally:
            os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 9


@pytest.mark.parametrize(("name", "step"), [("s.xlsx", 9), ("s", 7)])
def test_killed_at_any_point(tmp_path: Path, name: str, step: int) -> None:
    """Killed at some of its looks at the disk: the old season or the new one, whole; then all goes on as usual."""
    path = tmp_path / name
    write_season(SEASON, path)
    before = after = 0
    while _killed_at(step * (before + after), NEW, path):
        if read_season(path) == SEASON:
            before += 1
        else:
            assert read_season(path) == NEW
            after += 1
            write_season(SEASON, path)
            assert read_season(path) == SEASON
    assert read_season(path) == NEW
    assert before >= 4
    assert after >= (3 if name == "s" else 0)
