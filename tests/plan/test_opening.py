"""Bars before the first rehearsal mark have a name in a first rule file."""

from __future__ import annotations

import pytest

from expander.pipeline import first_rules_for
from expander.plan.form import rehearsal_marks, sections
from expander.rulefile import parse_rules
from tests import mini

BODY = "[A] G4:h G4 | [B] G4:h G4 |."


def first_file(bars: str) -> str:
    return first_rules_for(mini.document(f"Voice: {bars}"), "septet", "s.musicxml", "r.yaml")


@pytest.mark.parametrize(
    ("bars", "opening"),
    [
        (f"C5:w | D5:w | {BODY}", range(2)),
        (f"C5:q | D5:w | {BODY}", range(2)),  # the upbeat belongs to it
        (f"C5:q | {BODY}", None),  # an upbeat alone is no section
        (BODY, None),
        ("C5:w | [opening] D5:w | [B] G4:w |.", range(1, 2)),  # a name that the sketch uses
        ("C5:w | D5:w | E5:w |.", None),  # no marks, no form
    ],
)
def test_what_comes_before_the_first_mark_is_the_opening(bars, opening):
    sketch = mini.sketch(f"Voice: {bars}")
    form = sections(sketch, parse_rules(first_file(bars), "r.yaml").form)
    assert form.get("opening") == opening
    assert {*form} - {"opening"} == {*rehearsal_marks(sketch)} - {"opening"}


def test_the_opening_is_shown_with_its_bars_and_waits_to_be_filled_in():
    lines = first_file(f"C5:w | D5:w | {BODY}").splitlines()
    assert any(" ".join(line.split()) == "opening: {to: A} # 2 bars, 1-2" for line in lines)
    assert "#  opening:" in lines
