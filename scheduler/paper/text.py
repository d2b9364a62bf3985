"""Text for cells: what a spreadsheet can hold, and how much room it takes."""

from __future__ import annotations

import re
from functools import lru_cache

_UNWRITABLE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
_BREAKS = re.compile("[\t\r\n\x85\u2028\u2029]+")
_DIRECTION = re.compile("[\u202a-\u202e\u2066-\u2069]")
_WIDTHS = {  # of the letters in thousandths of their height; of all others a little more than usual
    **dict.fromkeys("0123456789abdeghnopquL?", 556), **dict.fromkeys("█░", 708),
    **dict.fromkeys("ijl'|", 222), **dict.fromkeys(" !.,:;/\\[]ftI", 278), **dict.fromkeys("()-r`\"", 333),
    **dict.fromkeys("ckvsxyzJ", 500), **dict.fromkeys("FTZ", 611), **dict.fromkeys("ABEKPSVXY&", 667),
    **dict.fromkeys("CDHNRUw", 722), **dict.fromkeys("GOQ", 778), **dict.fromkeys("mM", 833),
    **dict.fromkeys("W%—…", 1000),
}  # fmt: skip


def clean(text: str, keep_lines: bool = False) -> str:
    """Text that a cell can hold: no control or direction characters, at most 32,000 characters."""
    if len(text) < 200 and text.isascii() and text.isprintable():
        return text
    text = _DIRECTION.sub("", text)
    text = "\n".join(_BREAKS.sub(" ", line) for line in (text.split("\n") if keep_lines else [text]))
    text = _UNWRITABLE.sub("", text)
    return text if len(text) <= 32000 else text[:31999] + "…"


@lru_cache(maxsize=20_000)
def text_pixels(text: str, size: int, bold: bool = False) -> float:
    """Width of a line of text in pixels, a little more than it takes."""
    units = sum(_WIDTHS.get(c, 570) for c in text)
    return units / 1000 * size * 96 / 72 * (1.09 if bold else 1.02)


@lru_cache(maxsize=20_000)
def lines_needed(text: str, pixels: float, size: int, bold: bool = False) -> int:
    """Lines that a text takes when it is wrapped in a box of a width."""
    room = max(10.0, pixels - 7)
    lines = 0
    for part in text.split("\n"):
        lines, at = lines + 1, 0.0
        for word in part.split(" "):
            long = text_pixels(word + " ", size, bold)
            if at and at + long - text_pixels(" ", size) > room:
                lines, at = lines + 1, 0.0
            while long > room + 3 and long > text_pixels("mm", size):
                lines, long = lines + 1, long - room
            at += long
    return lines


def in_lines(parts: list[str], pixels: float, size: int = 8) -> str:
    """Parts one after the other, a new line where the next one does not fit into a box any more."""
    lines: list[str] = []
    for part in parts:
        if lines and text_pixels(f"{lines[-1]}, {part}", size) <= pixels - 20:
            lines[-1] += f", {part}"
        else:
            lines.append(part)
    return ",\n".join(lines)


def line_points(size: int) -> float:
    """Height of one line of text in points."""
    return size * 1.27
