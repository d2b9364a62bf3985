"""The state of giving out packs: what is left of pack runs and lots, and the parcels made so far.

Pack runs are served day by day; each day the line that is due first is served first, with
the oldest candy that it accepts. For one product of one design this is exact: any other
choice can be exchanged for it without serving less (earliest due date with interval
windows, Glover 1967). Products that share candy are tied; there it is a good rule, mended
by giving heavier lines their turn first where somebody goes short.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

TURNS = 6  # tries to serve everyone, each with those first who went short before
EFFORT = 200_000  # lines looked at while cutting down what can't all be served: a few seconds at most


@dataclass(frozen=True, eq=False)
class Want:
    """Packs that a line can take on packing days [soonest, latest]; parts: design -> (pieces, first making day)."""

    line: str
    product: str
    late: bool
    weight: int  # of one pack
    partial: bool
    packs: int
    soonest: int
    latest: int
    parts: Mapping[str, tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Parcel:
    """Packs of one line packed on one day, and pieces drawn from lots for them."""

    want: Want
    day: int
    packs: int
    draws: tuple[tuple[str, int], ...]


class Serving:
    """Pack runs and lots that are being given out.

    ``lots``: id -> (design, day made, pieces); ``runs``: (day, product) -> packs; candy is
    packed at least ``lead`` days after it was made.
    """

    def __init__(
        self, lots: Mapping[str, tuple[str, int, int]], runs: Mapping[tuple[int, str], int], lead: int
    ) -> None:
        self.lead = lead
        self.runs = dict(runs)
        self._all_pieces = {name: pieces for name, (_, _, pieces) in lots.items()}
        self.left = dict(runs)  # packs of runs that are nobody's yet
        self.pieces = dict(self._all_pieces)
        self.parcels: list[Parcel] = []
        self._turns_left = 0
        self._slots = sorted(runs)
        self._lots: dict[str, list[tuple[int, str]]] = defaultdict(list)
        for name, (design, made, _) in lots.items():
            self._lots[design].append((made, name))
        for of_design in self._lots.values():
            of_design.sort()

    @property
    def made(self) -> dict[str, list[tuple[int, int, str]]]:
        """Design -> (day made, pieces, lot) of all its lots, the oldest first."""
        return {d: [(made, self._all_pieces[lot], lot) for made, lot in lots] for d, lots in self._lots.items()}

    def serve_meant(
        self, wants: Sequence[Want], meant: Mapping[str, int], late: Mapping[str, int], patient: bool = True
    ) -> None:
        """Give each line what it is meant to get, in time and late; where that can't be, the lightest go short.

        ``patient``: seek who can be served together, which may take seconds; else whoever is short stays short.
        """
        goal = {w: min(w.packs, (late if w.late else meant).get(w.line, 0)) for w in wants}
        goal = {w: packs for w, packs in goal.items() if packs > 0}
        self._turns_left = TURNS + EFFORT // max(1, len(goal))
        if self._in_turns(goal):
            return
        plain = self._filled_up(goal)
        if not patient:
            return
        self._in_turns(self._shrunk(goal))
        shrunk = self._filled_up(goal)
        self.start_over(min(plain, shrunk, key=lambda parcels: -sum(p.packs * p.want.weight for p in parcels)))

    def _filled_up(self, goal: Mapping[Want, int]) -> list[Parcel]:
        """The parcels after what is left has gone to those who miss some of their goal."""
        missing: dict[str, int] = defaultdict(int)
        for want, packs in goal.items():
            missing[want.line] += packs
        for parcel in self.parcels:
            missing[parcel.want.line] -= parcel.packs
        self.serve_more(goal, missing)
        return self.parcels

    def _in_turns(self, goal: Mapping[Want, int]) -> bool:
        """Start over and serve all; who goes short is served before the others in the next turn."""
        first: list[Want] = []
        best: tuple[int, list[Parcel]] | None = None
        for _ in range(TURNS):
            if self._turns_left <= 0 and best is not None:
                break
            self._turns_left -= 1
            self.start_over()
            self._by_day({w: goal[w] for w in first})
            self._by_day({w: packs for w, packs in goal.items() if w not in first})
            got: dict[Want, int] = defaultdict(int)
            for parcel in self.parcels:
                got[parcel.want] += parcel.packs
            short = [w for w, packs in goal.items() if got[w] < packs]
            missed = sum((goal[w] - got[w]) * w.weight for w in short)
            if best is None or missed < best[0]:
                best = missed, self.parcels
            if all(w in first for w in short):
                break
            first += [w for w in short if w not in first]
        assert best is not None
        self.start_over(best[1])
        return best[0] == 0

    def _shrunk(self, goal: Mapping[Want, int]) -> dict[Want, int]:
        """The packs meant, with the lightest lines cut until the rest can all be served.

        The heaviest lines that can be served together are kept; then the others come back one
        by one, heaviest first, each with as many packs as still can be served.
        """
        order = sorted(goal, key=lambda w: (-w.weight, w.latest, w.line))
        keep = _most(len(order), lambda n: self._in_turns({w: goal[w] for w in order[:n]}))
        kept = {w: goal[w] for w in order[:keep]}
        for want in order[keep:]:
            if self._turns_left <= 0:
                break
            if want.partial:
                fits = _most(goal[want], lambda n, w=want, k=kept: self._in_turns({**k, w: n}))  # type: ignore[misc]
            else:
                fits = goal[want] if self._in_turns({**kept, want: goal[want]}) else 0
            if fits:
                kept[want] = fits
        return kept

    def start_over(self, parcels: Iterable[Parcel] = ()) -> None:
        """Take everything back, and give out these parcels."""
        self.left, self.pieces = dict(self.runs), dict(self._all_pieces)
        self.parcels = []
        for parcel in parcels:
            self._give(parcel)

    def keep(self, want: Want, day: int, packs: int, draws: Sequence[tuple[str, int]]) -> int:
        """Give up to so many packs of a day's run to a line again, with what is left of these draws; how many.

        Example: 6 packs of 10 from 40 of lot a and 20 of lot b, which failed: 4 packs.
        """
        most = dict(draws)

        def left(design: str, _first: int) -> list[tuple[str, int]]:
            return [(lot, min(most[lot], self.pieces[lot])) for _, lot in self._lots.get(design, ()) if lot in most]

        return self._serve(want, day, packs, left)

    def _give(self, parcel: Parcel) -> None:
        self.left[parcel.day, parcel.want.product] -= parcel.packs
        for lot, pieces in parcel.draws:
            self.pieces[lot] -= pieces
        self.parcels.append(parcel)

    def _by_day(self, goal: dict[Want, int]) -> None:
        """Serve runs in order of days, and on a day the wants in order of their last day."""
        of_product: dict[str, list[Want]] = defaultdict(list)
        for want in sorted(goal, key=lambda w: (w.latest, -w.weight, w.line)):
            of_product[want.product].append(want)
        for day, product in self._slots:
            for want in of_product[product]:
                if self.left[day, product] <= 0:
                    break
                if goal[want] > 0:
                    goal[want] -= self.give(want, day, goal[want])

    def serve_more(self, wants: Iterable[Want], missing: Mapping[str, int]) -> None:
        """Give what is left to lines that miss packs, the heaviest first, in time before late."""
        short = dict(missing)
        for want in sorted(wants, key=lambda w: (-w.weight, w.late, w.latest, w.line)):
            if short.get(want.line, 0) <= 0:
                continue
            for day, product in self._slots:
                if product == want.product and self.left[day, product] > 0 and short[want.line] > 0:
                    short[want.line] -= self.give(want, day, short[want.line])

    def give(self, want: Want, day: int, packs: int) -> int:
        """Give up to so many packs of a day's run to a line, with the oldest candy it accepts; how many."""
        if not want.soonest <= day <= want.latest:
            return 0
        return self._serve(want, day, packs, lambda design, first: self._usable(design, first, day))

    def _serve(
        self, want: Want, day: int, packs: int, usable: Callable[[str, int], Sequence[tuple[str, int]]]
    ) -> int:
        """Give up to so many packs of a day's run to a line, each design from its usable lots; how many.

        ``usable``: of a design made no earlier than a day, (lot, most pieces).
        """
        packs = min(packs, self.left.get((day, want.product), 0))
        lots: dict[str, Sequence[tuple[str, int]]] = {}
        for design, (pieces, first) in want.parts.items():
            lots[design] = usable(design, first)
            packs = min(packs, sum(most for _, most in lots[design]) // pieces)
            if packs <= 0:
                return 0
        draws: list[tuple[str, int]] = []
        for design, (pieces, _) in want.parts.items():
            need = packs * pieces
            for lot, most in lots[design]:
                if taken := min(need, most):
                    draws.append((lot, taken))
                    need -= taken
        self._give(Parcel(want, day, packs, tuple(draws)))
        return packs

    def _usable(self, design: str, first: int, day: int) -> list[tuple[str, int]]:
        """Lots with something left that were made in [first, day - lead], oldest first, and their pieces."""
        last, pieces = day - self.lead, self.pieces
        return [(lot, pieces[lot]) for made, lot in self._lots.get(design, ()) if first <= made <= last and pieces[lot]]

    def release(self, line: str) -> None:
        """Take back all that a line was given."""
        for parcel in self.parcels:
            if parcel.want.line == line:
                self.left[parcel.day, parcel.want.product] += parcel.packs
                for lot, pieces in parcel.draws:
                    self.pieces[lot] += pieces
        self.parcels = [p for p in self.parcels if p.want.line != line]


def _most(top: int, fits: Callable[[int], bool]) -> int:
    """The largest n up to ``top`` that fits, where what fits for n fits for less; 0 always fits."""
    low, high = 0, top
    while low < high:
        middle = (low + high + 1) // 2
        if fits(middle):
            low = middle
        else:
            high = middle - 1
    return low
