"""Plain words and tables on the command line."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scheduler.paper import words
from scheduler.paper.terminal import letter, on_screen, plain_table
from scheduler.paper.text import lines_needed, text_pixels
from scheduler.plan.summary import summarize
from tests.handmade import handmade_plan, handmade_season


def test_letter_says_what_is_made_short_and_proven() -> None:
    """The handmade plan: 4 batches, 65 packs short of 210, at most 2.7 % better, the firm order first."""
    season, plan = handmade_season(), handmade_plan()
    said = letter(season, plan, summarize(season, plan)).split("\n")
    assert said[0] == "Lantern Row Kitchen, Mon 2 Mar 2026 to Thu 5 Mar 2026"
    paid = "Labour 405.50 EUR, 1 h 20 of overtime; 460.00 EUR where contracts are paid in full."
    assert said[2].startswith(f"4 batches on 2 days. {paid}")
    assert (
        said[4] == "65 packs of 210 asked for can't be ready (1,000 pieces): 60 of firm orders, 5 of standing orders."
    )
    assert "at most 2.7 %" in said[5]
    rows = [line.split("  ")[0] for line in said[-2:]]
    assert rows == ["O4", "O3"]
    assert said[-2].endswith("60     60")


def test_letter_of_a_plan_with_nothing_short() -> None:
    """Nothing short: no table, and no doubt about it; where nothing is asked for, that."""
    short = {line.line for line in handmade_plan().shortfalls}
    season, plan = handmade_season(), replace(handmade_plan(), shortfalls=(), stages=())
    season = replace(season, orders=tuple(o for o in season.orders if o.id not in short))
    said = letter(season, plan, summarize(season, plan))
    assert "Nothing is short" in said
    assert "Order" not in said
    season, plan = replace(season, orders=(), forecasts=()), replace(plan, fills=())
    assert "Nothing is asked for" in letter(season, plan, summarize(season, plan))


def test_columns_line_up() -> None:
    """Text at the left, numbers at the right, no trailing blanks, control characters out."""
    table = plain_table(("Name", "Packs"), [("a\x1b[31m", 5), ("longer", 1200)], right=(1,))
    assert table.split("\n") == ["Name    Packs", "------  -----", "a[31m       5", "longer   1200"]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (words.clock(500), "08:20"),
        (words.clock(1450), "24:10"),
        (words.length(455), "7 h 35"),
        (words.length(120), "2 h"),
        (words.length(45), "45 min"),
        (words.money(123450, "EUR"), "1,234.50 EUR"),
        (words.money(-5, "EUR"), "-0.05 EUR"),
        (words.count(1, "batch", "batches"), "1 batch"),
        (words.count(1200, "piece"), "1,200 pieces"),
        (words.listed(["a", "b", "c"]), "a, b and c"),
        (words.listed([]), ""),
        (str(words.percent(1, 8)), "13"),
        (str(words.percent(3, 0)), "0"),
    ],
)
def test_figures_as_people_say_them(said: str, expected: str) -> None:
    """Clock times, lengths, money, counts, lists and rounded percents."""
    assert said == expected


def test_text_is_measured_before_it_is_written() -> None:
    """Wide letters take more room than narrow ones; a word longer than its box is broken over lines."""
    assert text_pixels("WWW", 9) > 2 * text_pixels("iii", 9)
    assert lines_needed("one two three four", 60, 9) > 1
    assert lines_needed("a\nb\nc", 500, 9) == 3
    assert lines_needed("x" * 100, 60, 9) >= 10


def test_long_lines_break_at_blanks_and_are_set_in() -> None:
    """In a window of 40: words whole, a numbered line under its words, a change under its text; tables stay."""
    said = on_screen("  1. Tea house: 80 Mixed jar, due Fri 7 May: 7 short.", 40).split("\n")
    assert said == ["  1. Tea house: 80 Mixed jar, due Fri 7", "     May: 7 short."]
    row = "Tue 4 May  Ivo  in 08:00–17:00; lead of 0504-2  ->  in 09:00–17:00; open up"
    said = on_screen(row, 40).split("\n")
    assert all(len(line) <= 40 for line in said)
    assert all(line.startswith(" " * 16) for line in said[1:])
    table = "Order  Customer                     Product                 Short"
    assert on_screen(table, 40) == table


def test_what_goes_to_a_file_is_not_broken() -> None:
    """Without a window every sentence stays on its line."""
    assert on_screen("word " * 100) == "word " * 100
