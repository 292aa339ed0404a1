"""What a first plan makes of a tune with chord symbols and nothing else (common practice)."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.model.rules import Rules, StrandRule
from expander.plan.default import default_rules
from tests import mini

SUNG = "Voice: {C} C5:q 'One E5 'two G5 'three E5 'four | {G7} D5:w 'five | {C} C5:w 'six"
PLAYED = "Tune: {C} C5:q E5 G5 E5 | {G7} D5:w | {C} C5:w"
BARE = "Voice: C5:q 'One E5 'two G5 'three E5 'four | D5:w 'five"
WITH_BASS = f"{SUNG}\nBass: @bass C3:w | G2:w | C3:w"


def planned(text: str, line_up: str, given: Rules | None = None) -> dict[str, tuple[str, ...]]:
    rules = default_rules(mini.sketch(text), load_ensemble(line_up), given)
    assert {e.play for e in rules.plan["all"]} == set(rules.strands)
    return {entry.play: entry.by for entry in rules.plan["all"]}


@pytest.mark.parametrize(
    ("sketch", "line_up", "plan"),
    [
        (
            SUNG,
            "septet",
            {
                "voice": ("voice",),
                "time": ("piano",),
                "chords": ("winds", "strings"),
            },
        ),
        (
            SUNG,
            "jazz-orchestra",
            {"voice": ("voice",), "time": ("rhythm section",), "chords": ("strings",)},
        ),
        (
            PLAYED,
            "string-quartet",
            {"tune": ("violin 1",), "chords": ("violin 2", "viola", "cello")},
        ),
        (SUNG, "satb-choir", {"voice": ("tutti",)}),
    ],
)
def test_the_chords_of_a_lead_sheet_are_played_and_held(sketch, line_up, plan):
    assert planned(sketch, line_up) == plan


@pytest.mark.parametrize(
    ("sketch", "given"),
    [
        (BARE, None),
        (WITH_BASS, None),
        (SUNG, Rules(strands={"voice": StrandRule("voice", staff=1)})),
    ],
)
def test_nothing_is_built_without_symbols_beside_other_staves_or_where_strands_are_given(
    sketch, given
):
    assert not {"time", "chords"} & set(planned(sketch, "septet", given))


@pytest.mark.parametrize(
    "line_up",
    ["big-band", "brass-quintet", "saxophone-quartet", "wind-band", "symphony-orchestra"],
)
def test_one_player_has_a_tune_without_words_and_others_the_chords(line_up):
    ensemble = load_ensemble(line_up)
    plan = planned(PLAYED, line_up)
    (leader,) = plan["tune"]
    assert len(ensemble.groups[leader]) == 1
    assert leader not in plan["chords"]
    by_symbols = {"piano", "rhythm section"} & set(ensemble.groups)
    assert set(plan.get("time", ())) <= by_symbols
    assert bool(by_symbols) == ("time" in plan)


@pytest.mark.parametrize("name", ["Chords", "Time"])
def test_a_tune_whose_part_has_the_name_of_what_is_built_keeps_it(name):
    plan = planned(PLAYED.replace("Tune", name), "septet")
    assert len(plan[name.lower()]) == 1
    assert len(plan) == 3
