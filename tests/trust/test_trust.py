"""The command that prints every figure of trust: a sample of it holds, and it can fail."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.trust import __main__ as trust
from tests.trust.corpus import corpus
from tests.trust.table import Row, Table

LIGHT = [topic for topic in trust.TOPICS if topic not in ("outside", "suite", "laws")]  # those have tests of their own


@pytest.mark.parametrize("topic", LIGHT)
def test_a_sample_of_every_topic_holds(topic: str, capsys: pytest.CaptureFixture[str]) -> None:
    """``--quick`` on one topic ends with 0 and prints its table."""
    assert trust.main(["--quick", topic]) == 0, capsys.readouterr().out
    assert "| all " in capsys.readouterr().out


def test_a_failure_is_printed_and_ends_with_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A row that did not hold, and a row that tried nothing, are both failures."""
    bad, empty = Row("a rule"), Row("another rule")
    bad.count("it was broken")
    bad.count(None)
    monkeypatch.setattr("tests.trust.sabotage.table", lambda quick: Table("A topic", [bad, empty]))
    assert trust.main(["sabotage"]) == 1
    said = capsys.readouterr().out
    assert "FAILED A topic: a rule: it was broken" in said
    assert "FAILED A topic: another rule: nothing was tried" in said


def test_a_topic_that_breaks_off_leaves_the_others_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """It is a failure, in the file too, and the next topic is tried all the same."""

    def breaks(quick: bool) -> Table:
        raise KeyError("a key")

    fine = Row("a rule")
    fine.count(None)
    monkeypatch.setattr("tests.trust.sabotage.table", breaks)
    monkeypatch.setattr("tests.trust.outside.table", lambda quick: Table("Another topic", [fine]))
    assert trust.main(["sabotage", "outside", "--write", str(tmp_path / "trust.md")]) == 1
    for said in (capsys.readouterr().out, (tmp_path / "trust.md").read_text()):
        assert "FAILED sabotage: the topic was tried to its end: KeyError: 'a key'" in said
        assert "## Another topic" in said


def test_the_corpus_is_large_and_every_case_has_its_own_name() -> None:
    """At least 200 seasons, of at least 20 kinds; no two are the same case."""
    cases = corpus()
    assert len(cases) >= 200
    assert len({c.kind for c in cases}) >= 20
    assert len({(c.kind, c.name) for c in cases}) == len(cases)
