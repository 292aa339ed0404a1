"""Dynamics between the staves of a keyboard: for which of them each is.

Common practice, no source: between the staves for both hands, above the upper or below the lower
for one of them.
"""

from __future__ import annotations

import pytest

from expander.model.dynamics import dynamic_names
from expander.model.rules import StrandRule
from expander.plan.strands import take
from tests import mini

BARS = 4
NOTES = "C5:w | C5:w | C5:w | C5:w"
BASS = "@bass C3:w | C3:w | C3:w | C3:w"


def with_marks(notes: str, marks: dict[int, str]) -> str:
    bars = notes.split(" | ")
    return " | ".join(f"{marks.get(i, '')} {bar}".strip() for i, bar in enumerate(bars, 1))


def told(upper: dict[int, str], lower: dict[int, str], staff: int) -> dict[int, str]:
    text = f"Piano: {with_marks(NOTES, upper)}\n+: {with_marks(BASS, lower)}"
    strand = take(mini.sketch(text), StrandRule("hand", staff=staff))
    return {bar + 1: " ".join(map(_said, marks)) for bar, marks in strand.directions.items()}


def _said(direction) -> str:
    mark = direction.marks[0]
    return mark.text or mark.get("type") or " ".join(dynamic_names(mark))


@pytest.mark.parametrize(
    ("upper", "lower", "right", "left"),
    [
        pytest.param({1: "!f"}, {}, {1: "f"}, {1: "f"}, id="one stave has all"),
        pytest.param({1: "!f&above"}, {}, {1: "f"}, {1: "f"}, id="one stave has all, above"),
        pytest.param(
            {1: '!f "dolce"', 2: '"poco a poco cresc."'}, {4: "!p&above"},
            {1: "f dolce", 2: "poco a poco cresc.", 4: "p"},
            {1: "f", 2: "poco a poco cresc.", 4: "p"}, id="words of loudness, and no others",
        ),
        pytest.param({}, {2: "!f&below"}, {2: "f"}, {2: "f"}, id="the lower stave has all"),
        pytest.param(
            {1: "!f&below", 3: "!f"}, {2: "!mf&above"},
            {1: "f", 2: "mf", 3: "f"}, {1: "f", 2: "mf", 3: "f"}, id="both between",
        ),
        pytest.param(
            {1: "!f&below"}, {1: "!p&below", 2: "!pp"},
            {1: "f"}, {1: "p", 2: "pp"}, id="each its own",
        ),
        pytest.param(
            {1: "!f&above", 2: "!p&above"}, {4: "!mf&above"},
            {1: "f", 2: "p", 4: "mf"}, {4: "mf"}, id="above the upper for the upper alone",
        ),
        pytest.param(
            {1: "!<", 3: "!. !f"}, {4: "!p&above"},
            {1: "crescendo", 3: "stop f", 4: "p"}, {1: "crescendo", 3: "stop f", 4: "p"},
            id="a hairpin with both its ends",
        ),
        pytest.param(
            {1: "!<", 3: "!."}, {2: "!p&above"},
            {1: "crescendo", 3: "stop"}, {2: "p"},
            id="a hairpin across a dynamic of the other hand for neither of the two",
        ),
        pytest.param(
            {1: "!<", 3: "!."}, {3: "!f&above"},
            {1: "crescendo", 3: "stop f"}, {1: "crescendo", 3: "stop f"},
            id="a hairpin to the bar of the other hand's dynamic",
        ),
        pytest.param(
            {2: "!f"}, {1: "!<", 3: "!."},
            {2: "f"}, {1: "crescendo", 3: "stop"}, id="nothing into the other hand's hairpin",
        ),
    ],
)  # fmt: skip
def test_a_mark_between_the_staves_is_for_both_where_the_other_has_none(
    upper, lower, right, left
) -> None:
    assert told(upper, lower, 1) == right
    assert told(upper, lower, 2) == left
