"""Writing so that nothing is lost: the old file stays whole until the new one is.

The new content goes to a temporary file beside the target, is forced to the disk, read
back by the caller's check, and then takes the target's name in one step.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

_MARK = ".unfinished-"  # in the names of our temporary files
_READY = ".ready"  # a complete new set of files, waiting to be moved into place
_STALE_SECONDS = 3600
_WAITS = "All is written (and read from the folder .ready); what is not in its place is put there the next time."


class CannotWrite(Exception):
    """The target could not be written; ``kept`` is where the content is now, if anywhere."""

    def __init__(self, message: str, kept: Path | None = None) -> None:
        self.kept = kept
        super().__init__(message)


def replace_atomically(
    path: Path | str, write: Callable[[Path], None], check: Callable[[Path], None] | None = None
) -> None:
    """Write a file so that the target is at every moment the whole old or the whole new one.

    ``write`` fills the (temporary) path it is given; ``check`` reopens it and raises if it
    is not as it should be. Raises CannotWrite with a sentence for a person; where a second
    name could be written (``plan (2).xlsx``), the content is kept there.
    """
    target = Path(path).resolve()
    blocked = _blocked(target)
    if blocked:
        raise _kept_elsewhere(target, blocked, write, check)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        _sweep(target)
        temporary = _fresh(target.parent, target)
    except OSError as error:
        raise _kept_elsewhere(target, _reason(error, target), write, check) from error
    try:
        _fill(temporary, write, check)
        if target.exists():
            shutil.copymode(target, temporary)
        os.replace(temporary, target)
    except OSError as error:
        temporary.unlink(missing_ok=True)
        raise _kept_elsewhere(target, _reason(error, target), write, check) from error
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _sync_folder(target.parent)


def replace_files_atomically(
    folder: Path | str, write: Callable[[Path], None], check: Callable[[Path], None] | None = None
) -> None:
    """Write a set of files into a folder so that a reader sees all the old or all the new ones.

    ``write`` fills an empty folder. The complete set is renamed to ``.ready`` in one step
    and its files are then moved over the old ones; a reader that finds ``.ready`` takes its
    files first (``current``), so being killed in between loses and mixes nothing. Other
    files of the folder stay. Raises CannotWrite; where all is written and only the move stopped,
    because a file is open elsewhere, it says so (see ``finish_move``).
    """
    target = Path(folder).resolve()
    made, written = not target.exists(), False
    incoming: Path | None = None
    try:
        target.mkdir(parents=True, exist_ok=True)
        _moved(target, "Nothing new was written.")
        _sweep(target / "files")
        incoming = target / f"{_MARK}{secrets.token_hex(4)}"
        incoming.mkdir()
        write(incoming)
        for file in incoming.iterdir():
            _sync(file)
        if check is not None:
            _checked(check, incoming)
        os.rename(incoming, target / _READY)
        written = True
        _sync_folder(target)
        finish_move(target)
    except BaseException as error:
        if incoming is not None:
            shutil.rmtree(incoming, ignore_errors=True)
        if made and target.is_dir() and not any(target.iterdir()):
            target.rmdir()
        if isinstance(error, OSError):
            raise CannotWrite(f"{_reason(error, target)} {_WAITS if written else 'Nothing was changed.'}") from error
        raise


def finish_move(folder: Path) -> None:
    """Move files into place that ``replace_files_atomically`` could not; nothing where none wait.

    All that can be moved is. Raises CannotWrite for the first that can't, ``kept`` the folder where it waits and
    is read from (``current``).
    """
    try:
        _moved(folder, _WAITS)
    except OSError as error:
        raise CannotWrite(f"{_reason(error, folder)} {_WAITS}", folder / _READY) from error


def current(folder: Path, name: str) -> Path:
    """Where the newest whole version of one of a folder's files is (see replace_files_atomically)."""
    waiting = folder / _READY / name
    return waiting if waiting.exists() else folder / name


def _moved(folder: Path, told: str) -> None:
    """Move what waits into place; CannotWrite, which ends with what is ``told``, for the first that can't be moved."""
    ready, stuck = folder / _READY, list[tuple[Path, OSError]]()
    if not ready.is_dir():
        return
    for file in sorted(ready.iterdir()):
        try:
            os.replace(file, folder / file.name)
        except OSError as error:
            stuck.append((file, error))
    for file, why in stuck[:1]:
        raise CannotWrite(f"{_reason(why, folder / file.name, ' without saving')} {told}", ready) from why
    ready.rmdir()


def _fresh(folder: Path, target: Path) -> Path:
    path = folder / f".{target.stem}{_MARK}{secrets.token_hex(4)}{target.suffix}"
    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    return path


def _fill(path: Path, write: Callable[[Path], None], check: Callable[[Path], None] | None) -> None:
    write(path)
    _sync(path)
    if check is not None:
        _checked(check, path)


def _checked(check: Callable[[Path], None], path: Path) -> None:
    try:
        check(path)
    except (OSError, CannotWrite):
        raise
    except Exception as error:
        raise CannotWrite("What was written could not be read back, so nothing was changed.") from error


def _sync(path: Path) -> None:
    with open(path, "rb+") as handle:
        os.fsync(handle.fileno())


def _sync_folder(folder: Path) -> None:
    if os.name == "posix":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _blocked(target: Path) -> str:
    """Why the target must not be replaced although the system would allow it, or "" if it may."""
    if target.is_dir():
        return f'"{target.name}" is a folder; give the name of a file.'
    if not target.exists():
        return ""
    if not target.stat().st_mode & 0o222:
        return f'"{target.name}" is marked read-only.'
    for lock in (f".~lock.{target.name}#", f"~${target.name}"):
        if (target.parent / lock).exists():
            return (
                f'"{target.name}" is open in a spreadsheet program; close it and try again '
                f'(if it is not open, delete the file "{lock}").'
            )
    return ""


def _reason(error: OSError, target: Path, how: str = "") -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f'The disk is full: "{target.name}" could not be written.'
    if error.errno == errno.EROFS or (
        error.errno in (errno.EACCES, errno.EPERM) and not os.access(_nearest(target.parent), os.W_OK)
    ):
        return f'The folder "{target.parent}" is read-only: "{target.name}" could not be written.'
    if error.errno in (errno.EACCES, errno.EPERM):
        return f'"{target.name}" could not be replaced; it may be open in another program: close it{how} and try again.'
    if error.errno in (errno.ENOTDIR, errno.EEXIST):
        return f'"{target.parent}" is not a folder: "{target.name}" could not be written.'
    return f'"{target.name}" could not be written ({error.strerror or error}).'


def _nearest(folder: Path) -> Path:
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder


def _kept_elsewhere(
    target: Path, reason: str, write: Callable[[Path], None], check: Callable[[Path], None] | None
) -> CannotWrite:
    """Write the content under a second name beside the target, else in the temporary folder."""
    for folder in (target.parent, Path(tempfile.gettempdir())):
        second: Path | None = None
        try:
            second = _second_name(folder, target)
            _fill(second, write, check)
        except OSError:
            if second is not None:
                second.unlink(missing_ok=True)
            continue
        except BaseException:
            if second is not None:
                second.unlink(missing_ok=True)
            raise
        shown = second.name if folder == target.parent else str(second)
        return CannotWrite(f'{reason} What was to be written is kept as "{shown}".', second)
    return CannotWrite(f"{reason} Nothing was changed.")


def _second_name(folder: Path, target: Path) -> Path:
    for number in range(2, 1000):
        path = folder / f"{target.stem} ({number}){target.suffix}"
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        except FileExistsError:
            continue
        return path
    raise OSError(errno.EEXIST, "too many copies")


def _sweep(target: Path) -> None:
    """Remove what a killed run left behind more than an hour ago."""
    for old in target.parent.glob(f"*{_MARK}*"):
        try:
            if time.time() - old.stat().st_mtime > _STALE_SECONDS:
                shutil.rmtree(old) if old.is_dir() else old.unlink()
        except OSError:
            continue  # someone else's, or gone already
