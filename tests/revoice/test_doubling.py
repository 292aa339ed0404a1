"""Lines that double each other; common practice, no source."""

from __future__ import annotations

import pytest

from expander.revoice.doubling import groups_of, is_plainer
from expander.revoice.lines import full_score, split
from tests import mini


def groups(text):
    """The groups of each bar as sets of part names; plainer ones after a stroke."""
    score = full_score(mini.document(text))
    lines = split(score.lines, frozenset())
    rows = []
    for bar in groups_of(lines, len(score.sketch.bars)):
        rows.append(
            {
                "".join(lines[n].owner.name[0] for n in sorted(g.members))
                + ("/" + "".join(lines[n].owner.name[0] for n in g.plainer) if g.plainer else "")
                for g in bar
            }
        )
    return rows


TUNE = "C5:q D5 E5 F5"


@pytest.mark.parametrize(
    ("flute", "viola", "expected"),
    [
        ("C5:q D5 E5 F5", "C5:q D5 E5 F5", {"FV"}),  # unison
        ("C6:q D6 E6 F6", "C5:q D5 E5 F5", {"FV"}),  # octave
        ("C7:q D7 E7 F7", "C5:q D5 E5 F5", {"FV"}),  # two octaves
        ("C5:e r D5:e r E5:e r F5:e r", TUNE, {"FV"}),  # shorter
        ("C5:q D5 E5 F5", "A4:q B4 C5 D5", {"F", "V"}),  # thirds
        ("C5:q D6 E5 F5", "C5:q D5 E5 F5", {"F", "V"}),  # octaves now and then
        ("C5:h E5:h", "C5:h E5:h", {"FV"}),  # all they play
        ("C5:w", "C5:q C5 C5 C5", {"V/F"}),  # held for repeated
        ("C5:h D5:h", "C5:q C5 D5 D5", {"V/F"}),
        ("C5:w", "C5:q D5 C5 C5", {"F", "V"}),  # something else sounds under it
        ("C5:h. D5:q", "C5:q D5 E5 F5", {"F", "V"}),
        ("^B4 C5:q D5 E5 F5", TUNE, {"F/V"}),  # the grace note leads
        ("^B4 C5:h E5:h", "C5:q C5 E5 E5", {"F", "V"}),  # nobody else has the grace note
    ],
)
def test_a_bar_of_two_players(flute, viola, expected) -> None:
    assert groups(f"Flute: {flute}\nViola: @alto {viola}") == [expected]


def test_lines_that_meet_for_a_note_are_two() -> None:
    found = groups("Flute: C5:q D5 E5 F5 | G5:w | C5:q B4 A4 G4\n"
                   "Viola: E4:q F4 G4 A4 | G4:w | E4:q D4 C4 B3")  # fmt: skip
    assert found[1] == {"F", "V"}


def test_tune_and_bass_in_octaves_are_two_where_somebody_plays_between() -> None:
    both = "C5:q D5 E5 F5 | G5:q F5 E5 D5"
    bass = "C3:q D3 E3 F3 | G3:q F3 E3 D3"
    alone = groups(f"Flute: {both}\nCello: @bass {bass}")
    between = groups(f"Flute: {both}\nViola: @alto A4:w | B4:w\nCello: @bass {bass}")
    assert alone == [{"FC"}, {"FC"}]
    assert between == [{"F", "V", "C"}] * 2


def test_drums_double_nobody() -> None:
    assert groups("Snare Drum: @perc x:q x x x\nFlute: C5:q C5 C5 C5") == [{"S", "F"}]


def test_nothing_is_plainer_than_silence() -> None:
    assert not is_plainer((), ())
