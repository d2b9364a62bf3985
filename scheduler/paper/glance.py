"""The season at a glance: what is made, what is short, how good that is, what it costs, how full the days are."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from openpyxl.chart import BarChart, Reference
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, Paragraph, ParagraphProperties

from scheduler.answers.remedy import remedies_of
from scheduler.paper.cures import ASK, cures
from scheduler.paper.figures import Figures
from scheduler.paper.listing import SMALL, SUBTITLE, paragraph, title
from scheduler.paper.looks import Look
from scheduler.paper.margins import contracts, no_slack, spare_batches
from scheduler.paper.proof_words import days_sentence, late_sentence, proof_sentence, short_sentence, thumb_sentence
from scheduler.paper.shares import shares
from scheduler.paper.sheet import Book, Sheet
from scheduler.paper.text import line_points, lines_needed
from scheduler.paper.urgency import in_order
from scheduler.paper.why import looked_into, remedy_in_short
from scheduler.paper.words import count, day_short, day_year, hours, length, listed, money
from scheduler.season.rules import opening, shows_on

LABEL = Look(size=10, bold=True, edge="tb", up="top")
VALUE = Look(size=10, edge="tb", up="top")
CAUTIONS = (
    "Hot sugar burns deeply and sticks: gloves, sleeves, a clear path, cold water at hand, visitors behind a barrier.",
    "Pulling is repetitive heavy work. The pull limits are the kitchen's own; no published standard gives pulls a day. "
    "Local rules on working time, young workers and manual work come first, and a qualified adviser decides.",
    "Allergens: the run order is help, not a cleaning validation. Sell-by days are the kitchen's own, under local "
    "food law.",
)
MOST_SHORT = 6
LABEL_PIXELS, VALUE_PIXELS = 165, 605  # a little smaller than life on paper, so that the sheet stays one page
MOST_REMEDIES = 3
CHART_ROWS = 8


def glance(book: Book, figures: Figures) -> Sheet:
    """Write the first sheet; the load picture is added when its figures are written."""
    sheet = book.sheet("At a glance", landscape=False, tab="000000")
    sheet.columns([LABEL_PIXELS, VALUE_PIXELS])
    kitchen = figures.season.kitchen
    title(sheet, kitchen.name)
    for label, words in _facts(figures):
        _line(sheet, label, words)
    _short(sheet, figures)
    return sheet


def _line(sheet: Sheet, label: str, words: str) -> None:
    sheet.put(sheet.row, 1, label, LABEL)
    sheet.put(sheet.row, 2, words, VALUE)
    lines = max(lines_needed(words, VALUE_PIXELS, 10), lines_needed(label, LABEL_PIXELS, 10, True))
    sheet.height(sheet.row, lines * line_points(10) + 5)
    sheet.row += 1


def _facts(figures: Figures) -> list[tuple[str, str]]:
    season, plan, s = figures.season, figures.plan, figures.summary
    open_days = [d for d in season.days if opening(season, d) is not None]
    pieces = sum(season.design_by_name[b.design].pieces for d in plan.days for b in d.batches)
    shows = sum(len(shows_on(season, d)) for d in season.days)
    first, last = season.kitchen.first_day, season.kitchen.last_day
    open_words = f"{count(season.day_count, 'day')}, {len(open_days)} of them open"
    made_words = f"{count(s.batches, 'batch', 'batches')} on {count(s.making_days, 'day')}"
    facts = [
        ("Season", f"{day_year(first)} to {day_year(last)}: {open_words}."),
        ("Made", f"{made_words}, {count(pieces, 'piece')} planned."),
        ("Short", short_sentence(figures)),
        ("Could it be better?", " ".join(filter(None, (proof_sentence(figures), thumb_sentence(figures))))),
    ]
    if plan.shortfalls:
        facts.append(("What would mend it", _mending(figures)))
    facts.append(("To the minute", days_sentence(figures)))
    if tight := no_slack(figures):
        facts.append(("No day to spare", tight))
    if spare := spare_batches(figures):
        facts.append(("Spare batches", spare))
    if s.late_units:
        facts.append(("Late", late_sentence(figures)))
    if shows:
        missed = [f"{name}, {day_short(d.day)}" for d in plan.days for name in d.missed_shows]
        not_held = f" Not held: {listed(missed)}." if missed else ""
        facts.append(("Shows", f"{shows - len(missed)} of {count(shows, 'show')} held.{not_held}"))
    cost = round(s.labour_cost * 100)
    over = f"{length(s.overtime_minutes)} of overtime" if s.overtime_minutes else "no overtime"
    paid = hours(sum(load.in_paid for load in figures.load.values()))
    facts.append(("Labour", f"{money(cost, s.currency)} for {paid} in, {over}."))
    if told := contracts(figures):
        facts.append(("Contracts", told))
    if plan.history:
        last_change = plan.history[-1]
        facts.append(("Changed", f"planned again from {day_short(last_change.now_day)} on: {last_change.reason}"))
    return facts


def _mending(figures: Figures) -> str:
    """The best remedies with what each mends and its price; else the setting that a sum points at, and what to ask."""
    if "remedies" not in figures.plan.extras:
        return "\n".join([*cures(figures.season, figures.certificates), ASK])
    found = remedies_of(figures.plan)
    said = [f"{n}. {remedy_in_short(figures, r)}" for n, r in enumerate(found[:MOST_REMEDIES], 1)]
    if not found:
        return looked_into(figures)
    left = len(found) - len(said)
    more = f"{left} more, and how sure each is" if left else "How sure each is"
    return "\n".join([*said, f"{more}: see the sheet Shortfall."])


def _short(sheet: Sheet, figures: Figures) -> None:
    short = in_order(figures)
    if not short:
        return
    paragraph(sheet, "Short, the most urgent first", SUBTITLE)
    named = len(short) if len(short) <= MOST_SHORT + 1 else MOST_SHORT  # "and 1 more" would take as much room
    for item in short[:named]:
        line = figures.lines.get(item.line)
        if line is None:
            continue
        due = figures.season.kitchen.first_day + timedelta(days=line.due)
        who = f"{line.customer}: " if line.customer else ""
        words = f"{who}{count(item.packs, 'pack')} of {line.asked:,} {line.product}, due {day_short(due)}"
        _line(sheet, f"{line.id}, {line.kind}", words)
    if len(short) > named:
        paragraph(sheet, f"and {len(short) - named} more: see the sheet Shortfall.", SMALL)


def load_picture(sheet: Sheet, figures: Figures, source: Sheet, first: int, last: int) -> None:
    """What is scarce; a bar chart of the days, drawn from the sheet of figures; then the cautions."""
    if found := shares(figures):
        paragraph(sheet, "What is scarce: how much the plan uses of what there is", SUBTITLE)
        for share in found:
            _line(sheet, share.name, share.line)
    if first <= last:
        sheet.height(sheet.row, 8)
        sheet.row += 1
        paragraph(sheet, "Batches each day (dark), and how many more could be started (light)", SUBTITLE)
        _bars(sheet, source, first, last)
    paragraph(sheet, "Please mind", SUBTITLE)
    for words in CAUTIONS:
        paragraph(sheet, words, SMALL)
    sheet.squeeze(0.25)


def _bars(sheet: Sheet, source: Sheet, first: int, last: int) -> None:
    """One bar chart in greys, each bar a day; it stands on rows of its own."""
    chart: Any = BarChart()
    chart.type, chart.legend, chart.gapWidth, chart.style = "col", None, 30, 1
    chart.grouping, chart.overlap = "stacked", 100
    chart.add_data(Reference(source.ws, min_col=2, max_col=3, min_row=first, max_row=last))
    chart.set_categories(Reference(source.ws, min_col=1, min_row=first, max_row=last))
    for series, grey in zip(chart.series, ("595959", "D9D9D9"), strict=True):
        series.graphicalProperties = GraphicalProperties(solidFill=grey, ln=LineProperties(solidFill="595959"))
    chart.x_axis.number_format, chart.x_axis.delete = "d mmm", False
    chart.y_axis.number_format, chart.y_axis.delete = "0", False
    chart.y_axis.scaling.min = 0
    chart.y_axis.majorGridlines.spPr = GraphicalProperties(ln=LineProperties(solidFill="D9D9D9"))
    for axis in (chart.x_axis, chart.y_axis):
        axis.txPr = RichText(
            p=[Paragraph(pPr=ParagraphProperties(defRPr=CharacterProperties(sz=800)), endParaRPr=None)]
        )
    chart.width, chart.height = 20.2, 3.8
    sheet.ws.add_chart(chart, f"A{sheet.row}")
    for row in range(sheet.row, sheet.row + CHART_ROWS):
        sheet.height(row, 14)
    sheet.row += CHART_ROWS
