"""A first plan has room for what the sketch holds, where the line-up has (common practice)."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.model.rules import Rules
from expander.pipeline import expand_score
from expander.plan.default import default_rules
from tests import mini

LOW = "\n".join(
    f"Low {n}: @bass {tune} | {tune}"
    for n, tune in enumerate(
        ("C4:q B3 A3 G3", "G3:h F3", "E3:q. E3 D3:q", "D3:e C3 B2 A2 G2:h", "G2:w"), start=1
    )
)
MANY = f"""
High 1: C5+E5+G5+C6:w | B4+D5+G5+B5:w
High 2: G4+C5+E5+G5:w | G4+B4+D5+G5:w
Middle: E4+G4+C5+E5:w | D4+G4+B4+D5:w
{LOW}
Lowest: @bass D2:w | D2:w
"""

DRUMS = "Tune: C5:w | D5:w\nRhythm: @perc xG5:q xC5 xG5 xC5 // xF4:h xF4 | xG5:w // xF4:w"


def test_who_doubles_the_strings_has_what_they_have_no_room_for() -> None:
    sketch, jazz = mini.sketch(MANY), load_ensemble("jazz-orchestra")
    plan = {e.play: e.by for e in default_rules(sketch, jazz).plan["all"]}
    assert plan["middle and low 1"] == ("violas",)  # five notes at once, and four can divide
    assert plan["middle"] == ("alto sax 2", "tenor saxophone", "horn 1")
    assert plan["low 1"] == ("horn 2",)
    assert expand_score(sketch, Rules(), jazz).ledger.unplaced == ()


@pytest.mark.parametrize(
    ("line_up", "expected"),
    [
        (
            "wind-band",
            {"rhythm upper": ("percussion 1",), "rhythm lower": ("percussion 2",)},
        ),
        ("jazz-orchestra", {"rhythm": ("drums",)}),
        ("chamber-orchestra", {"rhythm": ("percussion",)}),
    ],
)
def test_without_a_drum_set_hands_and_feet_go_to_two_players(line_up, expected) -> None:
    rules = default_rules(mini.sketch(DRUMS), load_ensemble(line_up))
    found = {e.play: e.by for e in rules.plan["all"] if e.play.startswith("rhythm")}
    assert found == expected


def test_two_percussionists_play_every_stroke_of_a_set() -> None:
    done = expand_score(mini.sketch(DRUMS), Rules(), load_ensemble("wind-band"))
    rows = mini.rows(done.score)
    assert done.ledger.unplaced == ()
    assert rows["Percussion 1"].count(":q") == 4
    assert rows["Percussion 2"].count(":h") == 2
