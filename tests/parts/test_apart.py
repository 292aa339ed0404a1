"""Shared staves taken apart: each row is a staff of a score and what its players get.

The conventions are common practice (no source): a line alone belongs to those the label names,
two stems to two players, a chord to one player a head from the top.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from expander.model.rules import Rules
from expander.parts import Options, make_parts
from expander.pipeline import expand_score
from expander.plan.default import default_rules
from tests import mini
from tests.parts.shared import each_alone, sharing_line_ups, sounds
from tests.strategies import Traits, sketches

ALL = Options(cues=False)

TAKEN = [
    # what the staff shows, then each player's part
    ('Oboes 1. 2.: "1." C5:h D5:h', ["C5:h D5:h", "R"]),
    ('Oboes 1. 2.: "2." C5:h D5:h', ["R", "C5:h D5:h"]),
    ('Oboes 1. 2.: "a 2" C5:h D5:h', ["C5:h D5:h", "C5:h D5:h"]),
    ("Oboes 1. 2.: C5+E5:h B4+D5:h", ["E5:h D5:h", "C5:h B4:h"]),
    ("Oboes 1. 2.: E5:w // C5:h D5:h", ["E5:w", "C5:h D5:h"]),
    ("Oboes 1. 2.: E5:w // R", ["E5:w", "R"]),
    ("Oboes 1. 2.: R // C5:w", ["R", "C5:w"]),
    # a label lasts until the next, or until heads or stems show more players
    ('Oboes 1. 2.: "1." C5:w | D5:w | "a 2" E5:w', ["C5:w | D5:w | E5:w", "R | R | E5:w"]),
    ('Oboes 1. 2.: "1." C5:w | C5+E5:w | "a 2" E5:w', ["C5:w | E5:w | E5:w", "R | C5:w | E5:w"]),
    ('Oboes 1. 2.: "1." C5:h "2." D5:h', ["C5:h r:h", "r:h D5:h"]),
    ('Oboes 1. 2.: "a 2" C5:h C5+E5:h', ["C5:h E5:h", "C5:h C5:h"]),
    # accidentals are those each player needs
    ("Oboes 1. 2.: C5+C#5:h C5+E5:h", ["C#5*:h E5:h", "C5:h C5:h"]),
    ("Oboes 1. 2.: C#5*:h C#5:h // A4:h C5*:h", ["C#5*:h C#5:h", "A4:h C5:h"]),
    # ties and slurs stay with their heads
    ("Oboes 1. 2.: C5~+E5~:w | C5+E5:w", ["E5~:w | E5:w", "C5~:w | C5:w"]),
    ("Oboes 1. 2.: E5:q( F5 G5 A5) // C5:w", ["E5:q( F5:q G5:q A5:q)", "C5:w"]),
    # three on a staff
    ("Trombones 1. 2. 3.: C4+E4+G4:w", ["G4:w", "E4:w", "C4:w"]),
    ('Trombones 1. 2. 3.: "1. 2." E4+G4:w', ["G4:w", "E4:w", "R"]),
    ('Trombones 1. 2. 3.: "a 3" E4:w', ["E4:w", "E4:w", "E4:w"]),
    ('Trombones 1. 2. 3.: "1. 3."&above "2."&below G4:w // E4:w', ["G4:w", "E4:w", "G4:w"]),
    # marks go to whom they are for
    ('Oboes 1. 2.: "1." !p C5:w', ["!p C5:w", "R"]),
    ('Oboes 1. 2.: !p C5+E5:w', ["!p E5:w", "!p C5:w"]),
    ('Oboes 1. 2.: !f&above !p E5:w // C5:w', ["!f&below E5:w", "!p C5:w"]),
    ('Oboes 1. 2.: "2. dolce" C5+E5:w', ["E5:w", '"dolce" C5:w']),
    ('Oboes 1. 2.: "a 2" !< C5:h D5:h !. | "1." C5:w',
     ["!< C5:h D5:h !. | C5:w", "!< C5:h D5:h !. | R"]),
]  # fmt: skip


@pytest.mark.parametrize(("staff", "players"), TAKEN)
def test_each_player_gets_their_own(staff, players) -> None:
    made = make_parts(mini.document(staff + " |."), ALL)
    bodies = [mini.to_text(p.document, ("accidentals", "placement")) for p in made.parts]
    wanted = [
        mini.to_text(mini.document(f"{p.name}: t4/4 {text} |."), ("accidentals", "placement"))
        for p, text in zip(made.parts, players, strict=True)
    ]
    assert [_without_tacet(body) for body in bodies] == wanted


def _without_tacet(text):
    return text.replace('"Tacet"&above ', "").replace("<measure-style> ", "")


@pytest.mark.parametrize(
    ("name", "players"),
    [
        ("Flutes 1. 2.", ["Flute 1", "Flute 2"]),
        ("Horns in F 3. 4.", ["Horn in F 3", "Horn in F 4"]),
        ("Horns 1-4", ["Horn in F 1", "Horn in F 2", "Horn in F 3", "Horn in F 4"]),
        ("Flöte 1.2", ["Flute 1", "Flute 2"]),
        ("2 Oboen", ["Oboe 1", "Oboe 2"]),
        ("Corni I.II in E", ["Horn in E 1", "Horn in E 2"]),
        ("Clarinets in B♭ 1 & 2", ["Clarinet in B♭ 1", "Clarinet in B♭ 2"]),
        ("Flutes", ["Flute 1", "Flute 2"]),
        ("Violin I", ["Violin I"]),
        ("Violins", ["Violins"]),
        ("Timpani", ["Timpani"]),
        ("Flute 1", ["Flute 1"]),
        ("Mystery", ["Mystery"]),
    ],
)
def test_a_staff_has_these_players(name, players) -> None:
    made = make_parts(mini.document(f'{name}: "a 2" C5:w |.'), ALL)
    assert [part.name for part in made.parts] == players


def test_a_line_without_label_goes_to_all_and_is_told() -> None:
    made = make_parts(mini.document("Oboes 1. 2.: C5:w | D5:w |."), ALL)
    assert [sounds(part.document) for part in made.parts] == [sounds(made.parts[0].document)] * 2
    assert [(f.check, f.bar) for f in made.findings] == [("whose-notes", "1")]


def test_two_staves_of_four_horns_are_four_parts() -> None:
    text = "Horns in F 1. 2. 3. 4. (-4 -7 0): C5+E5:w |.\n+: C4+G4:w |."
    made = make_parts(mini.document(text), ALL)
    got = [[str(n) for n in _pitches(part.document)] for part in made.parts]
    assert got == [["E5"], ["C5"], ["G4"], ["C4"]]


def _pitches(document):
    part = document.parts[0]
    events = (e for bar in part.bars for layer in bar.layers for e in layer)
    return [note.pitch for event in events for note in event.notes]


@settings(max_examples=40)
@given(sketches(Traits(staves=3, layers=2, bars=3)), sharing_line_ups())
def test_players_who_share_a_staff_get_what_they_get_alone(sketch, ensemble) -> None:
    rules = default_rules(sketch, ensemble, Rules())
    made = make_parts(expand_score(sketch, rules, ensemble).score, ALL)
    alone = expand_score(sketch, rules, each_alone(ensemble)).score
    assert len(made.parts) == len(alone.parts)
    for index, part in enumerate(made.parts):
        assert sounds(part.document) == sounds(alone, index)
