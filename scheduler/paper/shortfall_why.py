"""Why the plan is short and what would mend it, where it has been worked out: sums and priced changes."""

from __future__ import annotations

from dataclasses import replace

from scheduler.answers.remedy import remedies_of
from scheduler.paper.cures import TAKE, cure
from scheduler.paper.figures import Figures
from scheduler.paper.listing import SAID, SUBTITLE, paragraph
from scheduler.paper.sheet import Sheet
from scheduler.paper.sums import heading, sentences
from scheduler.paper.urgency import in_order
from scheduler.paper.why import alone, looked_into, remedy_words, unproven

LIMIT = replace(SAID, bold=True)
SUM = replace(SAID, indent=2)
CURE = replace(SUM, bold=True)


def reasons(sheet: Sheet, figures: Figures) -> None:
    """Each limit with the setting that eases it, and its sum, to be checked with a pencil; then what none proves."""
    if "certificates" not in figures.plan.extras:
        return
    certificates = figures.certificates
    paragraph(sheet, "Why: sums to check on paper", SUBTITLE)
    for number, certificate in enumerate(certificates, 1):
        paragraph(sheet, f"{number}.  {heading(figures.season, certificate)}.", LIMIT)
        if words := cure(figures.season, certificate):
            paragraph(sheet, words, CURE)
        for sentence in sentences(figures.season, certificate):
            paragraph(sheet, sentence, SUM)
    if words := alone(figures, certificates):
        paragraph(sheet, words)
    held = {i.line for c in certificates for i in c.inside}
    rest = [s for s in in_order(figures) if s.line not in held]
    if rest:
        paragraph(sheet, unproven(figures, rest))
    _gap(sheet)


def remedies(sheet: Sheet, figures: Figures) -> None:
    """Changes that were planned through, the most packs for the money first."""
    if "remedies" not in figures.plan.extras:
        return
    paragraph(sheet, "What would mend it", SUBTITLE)
    for number, remedy in enumerate(remedies_of(figures.plan), 1):
        paragraph(sheet, f"{number}.  {remedy_words(figures, remedy)}")
    if looked := looked_into(figures):
        paragraph(sheet, looked)
    if remedies_of(figures.plan):
        paragraph(sheet, TAKE)
    _gap(sheet)


def _gap(sheet: Sheet) -> None:
    sheet.height(sheet.row, 8)
    sheet.row += 1
