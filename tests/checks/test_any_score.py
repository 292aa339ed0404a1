"""Whatever a score holds, the checks come to an end, and say the same twice."""

from __future__ import annotations

from hypothesis import given, settings

from expander.checks import run
from expander.checks.marking import mark
from expander.checks.wording import as_json, as_text
from expander.model.score import Document
from tests.mini import document
from tests.strategies import documents

EMPTY = document("Flute: R")


@given(documents())
@settings(max_examples=15)
def test_any_score_can_be_checked_worded_and_marked(score: Document) -> None:
    found = run(score)
    assert found == run(score)
    assert as_text(found)
    assert len(as_json(found)["findings"]) == len(found)
    marked = mark(score, found)
    assert [len(part.bars) for part in marked.parts] == [len(part.bars) for part in score.parts]


def test_a_score_of_rests_has_nothing_to_say() -> None:
    assert run(EMPTY) == []
