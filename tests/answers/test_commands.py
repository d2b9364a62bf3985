"""The commands explain and promise, as a planner types them."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from scheduler.answers import remedies
from scheduler.answers.explain import with_certificates, with_limits_together
from scheduler.answers.remedy import Mending
from scheduler.cli import app
from scheduler.models.caps.limits import DayLimits
from scheduler.models.counts.binding import limits_together
from scheduler.models.search.loop import PlanOptions, facts_of, plan_season
from scheduler.paper.read_back import read_back
from scheduler.paper.run_sheet import MADE_HEADINGS
from scheduler.plan.files import read_plan
from scheduler.season.read import read_season
from scheduler.season.write import write_season
from tests.answers.test_record import fill_in
from tests.answers.test_remedies import overloaded
from typer.testing import CliRunner, Result


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with an overloaded season and its plan."""
    folder = tmp_path_factory.mktemp("overloaded")
    write_season(overloaded(), folder / "season")
    done = CliRunner().invoke(app, ["plan", str(folder / "season"), "--out", str(folder / "plan")])
    assert done.exit_code == 0, done.output
    return folder


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(app, [words[0], str(folder / "season"), str(folder / "plan"), *words[1:]])


def test_plan_carries_its_reasons(planned: Path) -> None:
    """``plan`` writes the certificates into plan.json, without being asked."""
    stored = read_plan(planned / "plan" / "plan.json").extras["certificates"]
    assert isinstance(stored, list) and stored


def test_explain_is_a_letter_on_stdout(planned: Path) -> None:
    done = run(planned, "explain")
    assert done.exit_code == 0
    assert "what is short, and why" in done.stdout
    assert "Call first:" in done.stdout
    assert "What would mend it (each" not in done.stdout
    assert "run rockrota explain SEASON PLAN --remedies" in done.stdout


def test_explain_with_remedies_writes_the_plan_again(planned: Path, tmp_path: Path) -> None:
    """The remedies are in the letter, in plan.json and in the workbook; the plan itself stays."""
    for name in ("season", "plan"):
        shutil.copytree(planned / name, tmp_path / name)
    before = read_plan(tmp_path / "plan" / "plan.json")
    done = run(tmp_path, "explain", "--remedies", "--most", "3")
    assert done.exit_code == 0, done.output
    assert "What would mend it" in done.stdout
    after = read_plan(tmp_path / "plan" / "plan.json")
    assert after.extras["remedies"]
    assert (after.days, after.fills) == (before.days, before.fills)
    audited = run(tmp_path, "audit")
    assert audited.exit_code == 0, audited.output


def test_remedies_are_not_written_over_what_was_typed(planned: Path, tmp_path: Path) -> None:
    """A filled-in workbook stays and can be recorded, the new one is plan-2.xlsx; a plan of another name keeps it."""
    for name in ("season", "plan"):
        shutil.copytree(planned / name, tmp_path / name)
    plan = read_plan(tmp_path / "plan" / "plan.json")
    first = plan.days[0]
    wall = tmp_path / "plan" / "plan.xlsx"
    fill_in(wall, f"Day {first.day}", MADE_HEADINGS, first.batches[0].id, {MADE_HEADINGS[3]: 870})
    typed = wall.read_bytes()
    done = run(tmp_path, "explain", "--remedies", "--most", "3")
    assert done.exit_code == 0, done.output
    assert done.stderr.splitlines()[-1] == (
        f"{wall} was filled in or saved since it was written, so it stays as it is; "
        f"new: {wall.with_name('plan-2.xlsx')}"
    )
    assert wall.read_bytes() == typed
    assert "What would mend it" in done.stdout
    assert len(read_back(wall, overloaded(), read_plan(tmp_path / "plan" / "plan.json"))) == 1
    (tmp_path / "plan" / "plan.json").rename(tmp_path / "plan" / "ours.json")
    wall.rename(tmp_path / "plan" / "ours.xlsx")
    words = ["explain", str(tmp_path / "season"), str(tmp_path / "plan" / "ours.json"), "--remedies", "--most", "3"]
    assert CliRunner().invoke(app, words).exit_code == 0
    names = sorted(p.name for p in (tmp_path / "plan").iterdir())
    assert names == ["ours-2.xlsx", "ours.json", "ours.xlsx", "plan-2.xlsx"]


def test_no_remedy_writes_nothing(planned: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing helps, the letter says so, and no file is touched."""
    for name in ("season", "plan"):
        shutil.copytree(planned / name, tmp_path / name)
    before = {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in tmp_path.rglob("*") if p.is_file()}
    monkeypatch.setattr(remedies, "find_remedies", lambda *_, **__: Mending((), 3, 3))
    done = run(tmp_path, "explain", "--remedies")
    assert done.exit_code == 0 and "what is short, and why" in done.stdout
    assert {p: (p.read_bytes(), p.stat().st_mtime_ns) for p in tmp_path.rglob("*") if p.is_file()} == before


def test_promise_answers_in_words_and_in_json(planned: Path) -> None:
    said = run(planned, "promise", "--product", "Kite jar", "--quantity", "1")
    assert said.exit_code == 0
    assert said.stdout.startswith("1 Kite jar")
    plain = run(planned, "promise", "--product", "Kite jar", "--quantity", "1", "--json")
    assert json.loads(plain.stdout)["quantity"] == 1


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--product", "Kyte jar", "--quantity", "1"], "did you mean 'Kite jar'?"),
        (["--product", "Sofa", "--quantity", "1"], "it makes Kite jar."),
        (["--product", "Kite jar", "--quantity", "0"], "--quantity"),
        (["--product", "Kite jar", "--quantity", "1", "--by", "Friday"], "is not a day; write it as 2026-03-30."),
    ],
)
def test_wrong_words_say_what_to_write(planned: Path, words: list[str], message: str) -> None:
    """Usage errors exit with 2 and say what is meant."""
    done = run(planned, "promise", *words)
    assert done.exit_code == 2
    assert message in " ".join(done.stderr.split())


def test_limits_that_bind_together_are_the_smallest_set() -> None:
    """One bench: what a day holds proves all 6,000; packing, pulls and hours are left out."""
    facts = facts_of(overloaded(), PlanOptions())
    assert limits_together(facts, DayLimits(facts)).limits == ("what a day holds to the minute",)


def test_nothing_is_computed_where_sums_prove_all(planned: Path) -> None:
    """Every line that is short is in a certificate: there is nothing to add."""
    season = read_season(planned / "season")
    plan = with_certificates(season, plan_season(season))
    assert with_limits_together(season, plan) is plan


def test_a_plan_of_other_tables_answers_nothing(planned: Path, tmp_path: Path) -> None:
    """An order more and a row less: no letter and no promise from a plan that does not know of them, in plain words."""
    shutil.copytree(planned, tmp_path, dirs_exist_ok=True)
    season = read_season(tmp_path / "season")
    more = replace(season, orders=(*season.orders, replace(season.orders[0], id="new")))
    less = replace(season, orders=season.orders[1:])
    for told, says in ((more, "totals, new: Short by"), (less, "not in orders or forecasts: leave its row")):
        write_season(told, tmp_path / "season")
        for words in (["explain"], ["promise", "--product", "Kite jar", "--quantity", "1"]):
            done = run(tmp_path, *words)
            assert done.exit_code == 7 and done.stdout == ""
            assert says in done.stderr and "The season has changed since the plan was made" in done.stderr
