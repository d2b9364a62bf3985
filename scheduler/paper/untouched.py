"""Has anybody typed into a workbook of ours since it was written? Its mark says so.

The mark is the SHA-256 of every part of the file but the one that carries it. Whatever a
spreadsheet program saves, it writes anew: the mark then fits no more, or is gone.
"""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Mapping
from pathlib import Path

ABOUT = "docProps/core.xml"  # the part that carries the mark, as the document's identifier
UNMARKED = "rockrota-content-" + "0" * 32  # where the mark goes


def mark_of(parts: Mapping[str, bytes]) -> str:
    """The mark of a workbook with these parts, by name."""
    digest = hashlib.sha256()
    for name in sorted(parts.keys() - {ABOUT}):
        digest.update(f"{name}\n{len(parts[name])}\n".encode())
        digest.update(parts[name])
    return "rockrota-content-" + digest.hexdigest()[:32]


def untouched(path: Path) -> bool:
    """Whether a file is a workbook just as rockrota wrote it; False for anything else that is there."""
    try:
        with zipfile.ZipFile(path) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
        return mark_of(parts).encode() in parts.get(ABOUT, b"")
    except Exception:  # zipfile and zlib raise a dozen kinds of error on damage
        return False


def free_name(path: Path) -> Path:
    """The path itself where nothing is lost by writing there, else the next such name: ``plan-2.xlsx``."""
    number, free = 1, path
    while free.is_file() and not untouched(free):
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free
