"""Why the plan is short and what would mend it, read back from the shortfall sheet: sums, what none proves, changes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, cast

from scheduler.audit.violation import Findings, Violation
from scheduler.audit.wall.cells import Cells
from scheduler.audit.wall.missing import ASK, TAKE, in_order
from scheduler.audit.wall.plan import Wall
from scheduler.audit.wall.sums import DAMAGED, Told
from scheduler.audit.wall.words import count, differences, money, names, text

WHY, MEND = "Why: sums to check on paper", "What would mend it"
ALONE = (
    "Each sum counts one limit alone; what is said at the top about a better plan counts all limits together, and so "
    "shows more."
)
BEST = 3  # remedies on the first sheet
PARTS = {WHY: "sums", MEND: "what would mend it"}


def why(wall: Wall, cells: Cells) -> Findings:
    """Each sum sentence by sentence in order, then what no sum proves; the same of what would mend it."""
    parts: list[tuple[str, Iterator[str]]] = []
    if "certificates" in wall.plan.extras and wall.plan.shortfalls:
        parts.append((WHY, _reasons(wall)))
    if "remedies" in wall.plan.extras and wall.plan.shortfalls:
        parts.append((MEND, _remedies(wall)))
    for head, words in parts:
        where = f"Shortfall, {PARTS[head]}"
        found, number = [], next((n for n, row in cells.items() if text(row, 1) == head), 0)
        while number and (said := text(cells.get(number, {}), 1)):
            found.append(said)
            number += 1
        try:
            expected = [head, *filter(None, words)]
        except DAMAGED:
            yield Violation("workbook", where, "The plan file is damaged here: what should stand is not known.")
            continue
        yield from differences(where, enumerate(expected), enumerate(found))


def _stored(wall: Wall, name: str) -> list[dict[str, Any]]:
    stored = wall.plan.extras.get(name, [])
    return stored if isinstance(stored, list) else []


def _reasons(wall: Wall) -> Iterator[str]:
    certificates = _stored(wall, "certificates")
    for number, certificate in enumerate(certificates, 1):
        told = Told(wall, certificate)
        yield f"{number}. {told.heading()}"
        yield told.cure()
        yield from told.sentences()
    bound = next((stage.bound for stage in wall.plan.stages if stage.name == "shortfall"), None)
    if bound and any(c["short_in_plan"] > c["pieces_short"] for c in certificates):
        yield ALONE
    held = {row["line"] for c in certificates for row in c["inside"]}
    yield _unproven(wall, [f"{s.line} ({count(s.packs, 'pack')})" for s in in_order(wall) if s.line not in held])


def _unproven(wall: Wall, rows: list[str]) -> str:
    """What is short though no sum proves it, and which limits prove it together where that was worked out."""
    if not rows:
        return ""
    words = f"For {names(rows[:8])}" + (f" and {len(rows) - 8} more" if len(rows) > 8 else "")
    words += " no single limit shows that it must be so. "
    if any(stage.name == "shortfall" and stage.proven for stage in wall.plan.stages):
        words += "It is proven all the same that no plan is less short: several limits act together."
    else:
        words += "Several limits act together, or a better plan exists that was not found."
    together = wall.plan.extras.get("together")
    if not isinstance(together, dict) or not together.get("value"):
        return words
    whole = sum(s.weighted for s in wall.plan.shortfalls)
    limits = together["limits"] or ["due days, sell-by and supplies"]
    share = 100 * min(together["value"], whole) // max(1, whole)
    words += f" By computation, not on paper: {share} % of the whole shortage by weight follows from {names(limits)} "
    return words + ("alone." if len(limits) == 1 else "together, and none of them can be left out.")


def _remedies(wall: Wall) -> Iterator[str]:
    remedies = _stored(wall, "remedies")
    for number, remedy in enumerate(remedies, 1):
        yield f"{number}. {_remedy(wall, remedy)}"
    counted = wall.plan.extras.get("remedies_tried")
    tried, of = counted if isinstance(counted, list) else (1, 1)
    if not tried and of and not remedies:
        yield "There was no time to look into any change: allow more seconds."
        return
    none = "" if remedies else "Of the changes that were looked into, none mends anything. "
    left = f"{tried} of {count(of, 'change')} could be looked into to the end in the time given; give it more with "
    yield none + (f"{left}--seconds." if tried < of else "")
    if remedies:
        yield TAKE


def mending(wall: Wall) -> str:
    """Of the first sheet: the best remedies, or the settings that sums point at and what to ask; blank for damage."""
    try:
        return _mending(wall)
    except DAMAGED:
        return ""


def _mending(wall: Wall) -> str:
    if "remedies" not in wall.plan.extras:
        told = [Told(wall, c).cure() for c in _stored(wall, "certificates")]
        return " ".join([*dict.fromkeys(filter(None, told)), ASK])
    remedies = _stored(wall, "remedies")
    best = [f"{number}. {_in_short(wall, remedy)}" for number, remedy in enumerate(remedies[:BEST], 1)]
    if not best:
        return " ".join(_remedies(wall))
    more = f"{len(remedies) - BEST} more, and how" if len(remedies) > BEST else "How"
    return f"{' '.join(best)} {more} sure each is: see the sheet Shortfall."


def _remedy(wall: Wall, r: dict[str, Any]) -> str:
    """The change, what it mends, what it costs, and how sure that is."""
    sure, anyway = "Proven: without it no plan can be so little short.", cast(Any, r.get("anyway"))
    if not r["keys"]:
        sure = "It asks nothing of anybody."
    elif not r["proven"] and not isinstance(anyway, int):
        sure = "Found: some of this might be had without it."
    elif not r["proven"]:
        sure = f"Found: with nothing changed, only planned for longer, {count(anyway, 'pack')} could be had as well."
    return f"{_in_short(wall, r)} {sure}"


def _in_short(wall: Wall, r: dict[str, Any]) -> str:
    """The change, what it mends, what it costs."""
    changes = names(r["changes"])
    if set(r["kinds"]) == {"open day"}:
        opened, days = r["changes"][0].split(" on ")[0], [" on ".join(c.split(" on ")[1:]) for c in r["changes"]]
        changes = f"{opened} on {names(days)}"
    words = changes[:1].upper() + changes[1:] + (f" ({'; '.join(r['notes'])})" if r["notes"] else "")
    if r["mended"] > 0:
        words += f": mends {r['mended']:,} of {count(sum(s.packs for s in wall.plan.shortfalls), 'pack')}"
        words += f" ({r['mended_firm']:,} of firm orders)" if r["mended_firm"] > 0 else ""
        words += f" (but {-r['mended_firm']:,} more of firm orders are short)" if r["mended_firm"] < 0 else ""
    else:
        words += ": mends no pack in number, but weightier orders before others"
    cents, currency = r["extra_cents"], wall.r.kitchen.currency
    if cents < 0:
        words += f", and costs {money(-cents, currency)} less"
    else:
        words += f", for {money(cents, currency)} more" if cents else ", at the same cost"
    if not r["priced"]:
        words += ", beside something that has no price yet"
    elif cents > 0 and r["mended"] > 0:
        words += f", {money((2 * cents + r['mended']) // (2 * r['mended']), currency)} a pack"
    return f"{words}."
