"""Written pitch whatever the score shows."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from expander.model.pitch import Transposition
from expander.model.rules import Rules
from expander.musicxml import read_bytes, to_bytes
from expander.parts import Options, make_parts
from expander.parts.written import at_concert_pitch
from expander.pipeline import expand_score
from expander.plan.default import default_rules
from tests import mini
from tests.parts.shared import sounds
from tests.strategies import Traits, line_ups, sketches

ALL = Options(cues=False)

CONCERT = """
Flute: k0 t4/4 C5:w |.
{name}: k0 t4/4 C4:w |.
"""

KEYS = [
    # Transposing instruments: what a sounding C4 is written as. S. Adler, The Study of
    # Orchestration, 4th edition, appendix of ranges and transpositions (from memory).
    ("Clarinet in B♭", "D4", 2),
    ("Clarinet in A", "Eb4", -3),
    ("Cor Anglais", "G4", 1),
    ("Horn in F", "G4", 1),
    ("Horn in E♭", "A4", 3),
    ("Horn in D", "Bb4", -2),
    ("Horn in E", "Ab4", -4),
    ("Trumpet in B♭", "D4", 2),
    ("Trumpet in D", "Bb3", -2),
    ("Trumpet in C", "C4", 0),
    ("Alto Saxophone", "A4", 3),
    ("Tenor Saxophone", "D5", 2),
    ("Baritone Saxophone", "A5", 3),
    ("Bassoon", "C4", 0),
]


@pytest.mark.parametrize(("name", "written", "fifths"), KEYS)
def test_a_concert_score_is_transposed_for_its_player(name, written, fifths) -> None:
    made = make_parts(mini.document(CONCERT.format(name=name)), ALL)
    part = made.parts[1].document.parts[0]
    assert str(part.bars[0].layers[0][0].notes[0].pitch) == written
    assert [f.check for f in made.findings] == ["concert-pitch"] * (written != "C4")
    assert [c.what.fifths for c in part.bars[0].changes if hasattr(c.what, "fifths")] == [fifths]


def test_a_transposed_score_stays_as_it_is() -> None:
    text = "Flute: k0 t4/4 C5:w |.\nHorn in F (-4 -7 0): k1 t4/4 G4:w |."
    made = make_parts(mini.document(text), ALL)
    assert str(made.parts[1].document.parts[0].bars[0].layers[0][0].notes[0].pitch) == "G4"


@pytest.mark.parametrize(
    ("text", "concert"),
    [
        ("Flute: k-2 C5:w |.\nClarinet in B♭: k-2 C5:w |.", True),
        ("Flute: k-2 C5:w |.\nClarinet in B♭: k0 C5:w |.", False),
        ("Flute: k-2 C5:w |.\nClarinet in B♭ (-1 -2 0): k0 C5:w |.", False),
        ("Flute: k0 C5:w |.\nOboe: k0 C5:w |.", False),
        ("Clarinet in B♭: k0 C5:w |.", False),
    ],
)
def test_a_score_that_does_not_say_so_is_taken_for_concert_pitch_by_its_keys(text, concert) -> None:
    assert at_concert_pitch(mini.document(text)) is concert


@settings(max_examples=25)
@given(sketches(Traits(staves=2, layers=2, bars=3)), line_ups(5))
def test_parts_are_the_same_from_a_concert_score_and_a_transposed_one(sketch, ensemble) -> None:
    rules = default_rules(sketch, ensemble, Rules())
    files = []
    for pitch in ("concert", "transposed"):
        score = expand_score(sketch, _pitched(rules, pitch), ensemble).score
        files.append(make_parts(read_bytes(to_bytes(score), "score"), ALL))
    one, other = files
    assert [p.name for p in one.parts] == [p.name for p in other.parts]
    for a, b in zip(one.parts, other.parts, strict=True):
        assert sounds(a.document) == sounds(b.document)
        assert _moves(a.document) == _moves(b.document)


def _pitched(rules, pitch):
    from msgspec.structs import replace

    return replace(rules, pitch=pitch)


def _moves(document):
    return [
        (index, change.what)
        for index, bar in enumerate(document.parts[0].bars)
        for change in bar.changes
        if isinstance(change.what, Transposition) and (index or change.what != Transposition())
    ]
