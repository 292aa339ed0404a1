"""A few mutated inputs in the suite; many on request by `python -m tests.fuzz`."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz import trial
from tests.fuzz.mutate import mutated_rules, mutated_score, pick
from tests.fuzz.specimens import SPECIMENS


class Drawn:
    """Choices drawn by Hypothesis, which shrinks them."""

    def __init__(self, data) -> None:
        self._data = data

    def below(self, count: int) -> int:
        return self._data.draw(st.integers(0, count - 1))


@given(st.data())
@settings(max_examples=60)
def test_a_mutated_score_is_refused_in_words_or_expanded_validly(data):
    choices = Drawn(data)
    small = [s for s in trial.scores() if len(s) < 12_000]
    score = mutated_score(pick(choices, small), choices, pick(choices, small))
    trial.expanded(score, pick(choices, ("string-quartet", "woodwind-quintet", "satb-choir")))


@given(st.data())
@settings(max_examples=8)
def test_mutated_rules_are_refused_in_words_or_followed(data):
    choices = Drawn(data)
    trial.expanded(trial.sample(), "", mutated_rules(pick(choices, trial.rule_files()), choices))


@pytest.mark.parametrize("name", SPECIMENS)
def test_what_once_failed_does_not_fail_again(name):
    command, data = SPECIMENS[name]
    if command == "expand":
        trial.expanded(data, "woodwind-quintet")
        trial.expanded(data, "chamber-orchestra")
    else:
        trial.further(data, command)
