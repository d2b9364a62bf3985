"""What is short, in the words of the sheets: how much, whether another plan could do better, who comes first."""

from __future__ import annotations

import re
from datetime import date

from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall.lists import told_of
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.words import count
from scheduler.audit.wanted import KIND_FACTOR, filled_packs, wanted_lines
from scheduler.plan.types import Shortfall

ASK = (
    "What would mend it, and for what price: run rockrota explain SEASON PLAN --remedies (SEASON: your season's "
    "workbook or folder; PLAN: the folder of this plan)."
)
TAKE = "To take one: run rockrota mend SEASON PLAN --take NUMBER. It writes the season with that change, and its plan."


def _short(wall: Wall) -> tuple[int, int, int]:
    """Packs asked, packs short, and what is short weighted, over all orders and forecasts."""
    lines, filled = wanted_lines(wall.r.season), filled_packs(wall.plan)
    lacks = {name: max(0, line.asked - filled[name]) for name, line in lines.items()}
    weighted = sum(lacks[name] * line.weight for name, line in lines.items())
    return sum(line.asked for line in lines.values()), sum(lacks.values()), weighted


def short_words(wall: Wall) -> str:
    asked, short, _ = _short(wall)
    if not asked:
        return "Nothing is asked for: there are neither orders nor forecasts."
    if not short:
        return f"Nothing is short: all {count(asked, 'pack')} asked for can be ready."
    tell, of = told_of(wall), {"firm": 0, "standing": 0, "forecast": 0}
    for item in wall.plan.shortfalls:
        of[tell[item.line][1] if item.line in tell else "forecast"] += item.packs
    pieces = sum(item.pieces for item in wall.plan.shortfalls)
    parts = [
        (number, f"of {kind} orders" if kind != "forecast" else "of forecasts") for kind, number in of.items() if number
    ]
    told = ", ".join(f"{number:,} {words}" for number, words in parts) if len(parts) > 1 else ""
    told = told or (f"all {parts[0][1]}" if parts else "")
    return f"{count(short, 'pack')} of {asked:,} asked for can't be ready ({count(pieces, 'piece')}): {told}."


def better_words(wall: Wall, where: str, said: str, thumb: bool) -> Findings:
    """What is said of better plans: the figures are those of the bound, and only what is proven is called so.

    The words themselves are the letter's own.
    """
    _, short, weighted = _short(wall)
    stage, rule = next((s for s in wall.plan.stages if s.name == "shortfall"), None), wall.plan.rule_of_thumb_weighted
    bound = None if stage is None else stage.bound
    best = not short or (bound is not None and (bound >= weighted or (stage is not None and stage.proven)))
    wanted = []
    if not best and bound is not None and bound > 0:
        gap = weighted - bound
        share = max(0.1, 100 * gap / max(1, weighted))  # less is told as less than 0.1 %
        wanted = [f"{share:.1f}", f"{-(-gap * short // weighted):,}"]
    if thumb and short and rule is not None and rule > weighted and (times := f"{rule / weighted:.1f}") != "1.0":
        wanted.append(times)
    if re.findall(r"\d[\d,.]*\d|\d", said) != wanted or ("No plan can do better" in said) != best or not said:
        known = "it is proven that no plan can do better" if best else "a better plan may exist"
        figures = f"; the figures are {', '.join(wanted)}" if wanted else ""
        yield Violation("workbook", where, f"It says: {said} But {known}{figures}.")


def in_order(wall: Wall) -> list[Shortfall]:
    """Firm before standing before forecast, confirmed first, then by priority, due day and name."""
    lines, tell = wanted_lines(wall.r.season), told_of(wall)

    def key(item: Shortfall) -> tuple[int, bool, int, date, str]:
        _, kind, priority, confirmed = tell[item.line]
        return -KIND_FACTOR[kind], not confirmed, priority, lines[item.line].due, item.line

    return sorted((s for s in wall.plan.shortfalls if s.line in tell), key=key)
