"""One table a topic: what was tried, how often, how often it held, and what did not."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass
class Row:
    """One line: ``held`` of ``tried`` did as they should; ``failures`` say which did not."""

    what: str
    tried: int = 0
    failures: list[str] = field(default_factory=list)
    note: str = ""

    def count(self, failure: str | None) -> None:
        """Count one try; None held."""
        self.tried += 1
        if failure:
            self.failures.append(failure)

    @property
    def held(self) -> int:
        return self.tried - len(self.failures)


@dataclass
class Table:
    """A topic. ``words`` are the headings of the two counts, such as ("tried", "caught")."""

    title: str
    rows: list[Row]
    words: tuple[str, str] = ("tried", "held")

    @property
    def failures(self) -> list[str]:
        """What did not hold; a row that tried nothing is a failure, too."""
        empty = [f"{row.what}: nothing was tried" for row in self.rows if not row.tried]
        return [f"{row.what}: {failure}" for row in self.rows for failure in row.failures] + empty

    def lines(self) -> list[str]:
        """The table as Markdown, with its sums in the last row."""
        tried, held = (sum(getattr(r, name) for r in self.rows) for name in ("tried", "held"))
        cells = [(r.what, str(r.tried), str(r.held), str(len(r.failures)), r.note) for r in self.rows]
        cells = [("", *self.words, "failed", ""), *cells, ("all", str(tried), str(held), str(tried - held), "")]
        wide = [max(3, *(len(row[i]) for row in cells)) for i in range(5)]
        out = [f"## {self.title}", ""]
        for number, row in enumerate(cells):
            padded = [c.rjust(w) if 0 < i < 4 else c.ljust(w) for i, (c, w) in enumerate(zip(row, wide, strict=True))]
            out.append(f"| {' | '.join(padded)} |")
            if number == 0:
                rules = ["-" * (w + 1) + (":" if 0 < i < 4 else "-") for i, w in enumerate(wide)]
                out.append(f"|{'|'.join(rules)}|")
        return [*out, ""]
