"""A written workbook read back: the value of every cell, by sheet, row and column.

Read straight from the file's own parts, since a long season has a million cells. Files are
other people's: document types are refused, and sizes are capped before unpacking.
"""

from __future__ import annotations

import posixpath
import zipfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NoReturn
from xml.parsers import expat

Value = str | float
Row = dict[int, Value]  # column from 1 -> value
Cells = dict[int, Row]  # row from 1 -> its cells; blank ones left out
LARGEST_PART = 400 * 1024 * 1024  # bytes unpacked


class CannotRead(Exception):
    """A file that is no whole workbook."""


def read_sheets(path: Path) -> dict[str, Cells]:
    """Title -> cells of every sheet of a workbook. Raises CannotRead."""
    try:
        with zipfile.ZipFile(path) as parts:
            sheets = _sheets(parts)
            texts = _texts(parts)
            return {title: _cells(_part(parts, name), texts) for title, name in sheets}
    except (OSError, zipfile.BadZipFile, KeyError, ValueError, expat.ExpatError, NotImplementedError) as error:
        raise CannotRead(f"{path.name} can't be read back: {error}") from None


def _part(parts: zipfile.ZipFile, name: str) -> bytes:
    if parts.getinfo(name).file_size > LARGEST_PART:
        raise ValueError(f"{name} is too large")
    return parts.read(name)


def _refuse(*_: object) -> NoReturn:
    raise ValueError("it declares a document type")


def _parser() -> expat.XMLParserType:
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse
    return parser


def _tags(data: bytes, wanted: str) -> Iterator[dict[str, str]]:
    """Attributes of every tag of a name."""
    found: list[dict[str, str]] = []
    parser = _parser()
    parser.StartElementHandler = lambda name, attributes: found.append(attributes) if name == wanted else None
    parser.Parse(data, True)
    yield from found


def _sheets(parts: zipfile.ZipFile) -> list[tuple[str, str]]:
    """(title, name of its part) in the order of the book."""
    targets = {
        tag["Id"]: posixpath.normpath(posixpath.join("/xl", tag["Target"])).lstrip("/")
        for tag in _tags(_part(parts, "xl/_rels/workbook.xml.rels"), "Relationship")
    }
    return [(tag["name"], targets[tag["r:id"]]) for tag in _tags(_part(parts, "xl/workbook.xml"), "sheet")]


def _texts(parts: zipfile.ZipFile) -> list[str]:
    """The table of shared texts that other programs write; ours has none."""
    name = "xl/sharedStrings.xml"
    if name not in parts.namelist():
        return []
    texts: list[str] = []
    open_text = [False]

    def start(tag: str, _: dict[str, str]) -> None:
        if tag == "si":
            texts.append("")
        open_text[0] = tag == "t"

    def end(_: str) -> None:
        open_text[0] = False

    def text(data: str) -> None:
        if open_text[0]:
            texts[-1] += data

    parser = _parser()
    parser.StartElementHandler, parser.EndElementHandler, parser.CharacterDataHandler = start, end, text
    parser.Parse(_part(parts, name), True)
    return texts


class _Reader:
    """Collects the cells of one sheet."""

    def __init__(self, texts: Sequence[str]) -> None:
        self.cells: Cells = {}
        self._texts = texts
        self._ref = self._kind = self._text = ""
        self._inside = False

    def start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "c":
            self._ref, self._kind, self._text = attributes.get("r", ""), attributes.get("t", "n"), ""
        self._inside = tag in ("v", "t")

    def text(self, data: str) -> None:
        if self._inside:
            self._text += data

    def end(self, tag: str) -> None:
        self._inside = False
        if tag == "c" and self._text:
            letters = self._ref.rstrip("0123456789")
            row = self.cells.setdefault(int(self._ref[len(letters) :]), {})
            row[_column(letters)] = self._value()

    def _value(self) -> Value:
        if self._kind == "s":
            return self._texts[int(self._text)]
        return float(self._text) if self._kind == "n" else self._text


def _column(letters: str) -> int:
    """A is 1, Z is 26, AA is 27."""
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


def _cells(data: bytes, texts: Sequence[str]) -> Cells:
    reader, parser = _Reader(texts), _parser()
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.text
    parser.Parse(data, True)
    return reader.cells
