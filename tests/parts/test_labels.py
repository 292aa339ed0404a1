"""Labels of shared staves: who is named (common practice in editions; no source)."""

from __future__ import annotations

import pytest

from expander.parts.labels import places, read_label

NAMED = [
    # words, numbers on the staff, places named
    ("1.", (1, 2), (0,)),
    ("2.", (1, 2), (1,)),
    ("1. 2.", (1, 2, 3), (0, 1)),
    ("1. 3.", (1, 2, 3), (0, 2)),
    ("1.2.", (1, 2, 3), (0, 1)),
    ("1. & 3.", (1, 2, 3), (0, 2)),
    ("1. u. 2.", (1, 2, 3), (0, 1)),
    ("1.-3.", (1, 2, 3, 4), (0, 1, 2)),
    ("1°", (1, 2), (0,)),
    ("2nd", (1, 2), (1,)),
    ("II.", (1, 2), (1,)),
    ("I. Solo", (1, 2), (0,)),
    ("1 solo", (1, 2), (0,)),
    ("Solo", (1, 2), (0,)),
    ("a 2", (1, 2), (0, 1)),
    ("a2", (1, 2), (0, 1)),
    ("à 2", (1, 2), (0, 1)),
    ("zu 2", (1, 2), (0, 1)),
    ("a 2", (1, 2, 3), (0, 1)),
    ("a 3", (1, 2, 3), (0, 1, 2)),
    ("unis.", (1, 2), (0, 1)),
    ("Tutti", (1, 2), (0, 1)),
    ("3.", (3, 4), (0,)),
    ("3. 4.", (3, 4), (0, 1)),
    ("1.", (3, 4), (0,)),  # some scores count each pair from one
]


@pytest.mark.parametrize(("text", "numbers", "named"), NAMED)
def test_a_label_names_these_players(text, numbers, named) -> None:
    label = read_label(text)
    assert label is not None
    assert label.lasts
    assert places(label, numbers) == named


@pytest.mark.parametrize(
    "text",
    ["1", "2", "I", "dolce", "pizz.", "a tempo", "1st time only", "Violins", "V.S.", "sul G", "div",
     "espr. 2", "in 2", "12", "3/4", "A", ""],
)  # fmt: skip
def test_other_words_name_nobody(text) -> None:
    label = read_label(text)
    assert label is None or not label.lasts or label.divides


@pytest.mark.parametrize(
    ("text", "named", "rest"),
    [("2. con sord.", (1,), "con sord."), ("1. muta in A", (0,), "muta in A"),
     ("1. to Piccolo", (0,), "to Piccolo")],
)  # fmt: skip
def test_words_for_one_player_are_no_lasting_label(text, named, rest) -> None:
    label = read_label(text)
    assert label is not None
    assert not label.lasts
    assert (places(label, (1, 2)), label.rest) == (named, rest)
