"""Taking a remedy: the season with its change and a plan of it, as the letter promised, in a folder of their own."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from scheduler.answers.changes import kept_rows
from scheduler.answers.remedies import find_remedies, made_real
from scheduler.answers.remedy import Remedy, remedies_of, with_remedies
from scheduler.audit import audit
from scheduler.cli import app
from scheduler.models.search.loop import PlanOptions
from scheduler.paper.terminal import letter as words
from scheduler.paper.why import remedy_words
from scheduler.plan.files import PlanFaults, read_plan
from scheduler.plan.summary import summarize
from scheduler.season.read import read_season
from scheduler.season.write import write_season
from scheduler.take import MENDED, named, take_remedy
from tests.answers.test_ahead import going_on
from tests.answers.test_remedies import overloaded
from typer.testing import CliRunner, Result

CARE = PlanOptions(workers=1)


@pytest.fixture(scope="module")
def letter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an overloaded season, its plan and, in it, what would mend it."""
    folder = tmp_path_factory.mktemp("overloaded")
    write_season(overloaded(), folder / "season")
    assert run(folder, "plan", "--out", folder / "plan").exit_code == 0
    done = run(folder, "explain", folder / "plan", "--remedies", "--most", "24")
    assert "rockrota mend SEASON PLAN --take NUMBER" in done.stdout
    return folder


def run(folder: Path, command: str, *words: object) -> Result:
    return CliRunner().invoke(app, [command, str(folder / "season"), *map(str, words)])


def files(folder: Path) -> dict[Path, bytes]:
    return {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_each_remedy_of_the_letter_can_be_taken(letter: Path, tmp_path: Path) -> None:
    """What is short is what the letter said; the new season and plan are sound; those that were there stay."""
    told, was = files(letter), read_plan(letter / "plan" / "plan.json")
    remedies = remedies_of(was)
    assert {len(r.keys) for r in remedies} == {1, 2}
    for number, remedy in enumerate(remedies, 1):
        new = tmp_path / str(number)
        done = run(letter, "mend", letter / "plan", "--take", number, "--out", new)
        assert done.exit_code == 0, done.output
        plan, season = read_plan(new / "plan.json"), read_season(new / "season")
        short = next(s for s in plan.stages if s.name == "shortfall")
        assert (short.value, short.bound) == (remedy.short_after, remedy.least_after)
        assert season != overloaded() and not audit(season, plan)
        assert plan.history[-1].reason == " and ".join(remedy.changes)
        assert run(new, "explain", new).exit_code == 0
    assert files(letter) == told


def test_the_screen_says_what_was_taken_and_where_it_is(letter: Path, tmp_path: Path) -> None:
    """The remedy in the words of the letter, the new plan's own letter, its files."""
    (first, *_), new = remedies_of(read_plan(letter / "plan" / "plan.json")), tmp_path / "new"
    done = run(letter, "mend", letter / "plan", "--take", 1, "--out", new)
    mends = remedy_words_of(letter, first).split(": ", 1)[1].split(". ")[0]
    assert "Taken: " in done.stdout and mends in done.stdout
    for path in (new / "plan.xlsx", new / "plan.json", new / "season"):
        assert str(path) in done.stdout


def remedy_words_of(folder: Path, remedy: Remedy) -> str:
    from scheduler.paper.figures import Figures

    return remedy_words(Figures(read_season(folder / "season"), read_plan(folder / "plan" / "plan.json")), remedy)


@pytest.mark.parametrize("number", [0, 99])
def test_a_number_that_is_not_in_the_letter_writes_nothing(letter: Path, tmp_path: Path, number: int) -> None:
    done = run(letter, "mend", letter / "plan", "--take", number, "--out", tmp_path / "new")
    assert done.exit_code == (2 if number == 0 else 3)
    assert number == 0 or "take one from 1 to " in done.stderr
    assert not (tmp_path / "new").exists()


def test_a_plan_without_remedies_says_how_to_get_them(letter: Path, tmp_path: Path) -> None:
    shutil.copytree(letter / "season", tmp_path / "season")
    assert run(tmp_path, "plan", "--out", tmp_path / "plan").exit_code == 0
    before = files(tmp_path)
    done = run(tmp_path, "mend", tmp_path / "plan", "--take", 1, "--out", tmp_path / "new")
    assert done.exit_code == 3 and "explain SEASON PLAN --remedies" in done.stderr
    assert files(tmp_path) == before


def test_a_change_that_the_season_gives_no_more_is_told(letter: Path) -> None:
    plan = read_plan(letter / "plan" / "plan.json")
    strange = replace(remedies_of(plan)[0], keys=("fly",))
    with pytest.raises(PlanFaults, match="--remedies again"):
        made_real(overloaded(), plan, strange, CARE)


def test_a_season_under_way_keeps_its_past_and_says_what_changed(tmp_path: Path) -> None:
    """The plan goes on from the one on the wall: days past are the same, the sheet What changed has the rest."""
    season, plan = going_on(0)
    plan = with_remedies(plan, find_remedies(season, plan, options=CARE, workers=1, singles=3, pairs=0))
    taken, mended = take_remedy(season, plan, 1, tmp_path / "season", "spring", tmp_path / "new", CARE)
    assert mended.keys == remedies_of(plan)[0].keys
    assert mended.short_after < mended.short_before
    past = [d for d in plan.days if d.day < plan.from_day]
    assert [d for d in taken.plan.days if d.day < plan.from_day] == past and past
    assert len(taken.plan.history) == len(plan.history) + 1
    assert kept_rows(taken.plan)
    assert taken.plan.rule_of_thumb_weighted is None
    assert "rule of thumb" not in words(taken.season, taken.plan, summarize(taken.season, taken.plan))


def test_a_folder_is_named_after_the_season_and_not_after_what_was_taken_before(tmp_path: Path) -> None:
    beside = tmp_path / f"spring-{MENDED}-2"
    beside.mkdir()
    (beside / "plan.json").touch()
    assert named("season", beside / "season", MENDED) == f"spring-{MENDED}"
    assert named("season", beside / "season", date(2027, 3, 2)) == "spring-2027-03-02"
    assert named("spring", tmp_path / "spring", MENDED) == f"spring-{MENDED}"
