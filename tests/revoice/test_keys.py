"""Keys and intervals held against music21, and against the circle of fifths."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from music21 import interval as intervals
from music21 import pitch as pitches

from expander.errors import BadUsage
from expander.model.pitch import Drum, Interval, Sounding
from expander.model.score import Key
from expander.model.walk import notes_of
from expander.revoice.findkey import find_keys, key_name
from expander.revoice.keys import by_semitones, first_key, interval_for, transposed
from expander.revoice.lines import full_score
from tests import mini
from tests.strategies import Traits, sketches

SONG = "Voice: k1 G4:q 'One' A4 'day' B4 'at' D5 'sea' | {G} G4:w 'home'"


@pytest.mark.parametrize("name", ["m2", "M2", "m3", "M3", "P4", "A4", "d5", "P5", "m6",
                                  "M6", "m7", "M7", "P8", "m9", "M10", "P12"])  # fmt: skip
@pytest.mark.parametrize("sign", ["", "-"])
def test_an_interval_by_name_is_music21s(name, sign) -> None:
    found = interval_for(sign + name, mini.sketch("Tune: C5:w"))
    theirs = intervals.Interval(sign + name)
    assert found.chromatic == theirs.chromatic.semitones
    moved = Sounding.named("C5").moved(found)
    wanted = theirs.transposePitch(pitches.Pitch("C5"))
    if abs(found.fifths) <= 6:  # beyond six accidentals the enharmonic is meant to be taken
        assert str(moved) == wanted.nameWithOctave.replace("-", "b")


@pytest.mark.parametrize(
    ("key", "wanted", "expected"),
    [
        ("k0", "D", Interval(1, 2)),
        ("k0", "Bb", Interval(-1, -2)),
        ("k0", "b flat", Interval(-1, -2)),
        ("k1", "Eb major", Interval(-2, -4)),
        ("k-1:minor", "Em", Interval(1, 2)),
        ("k-1:minor", "E", Interval(1, 2)),  # the mode stays
        ("k0", "F#", Interval(3, 6)),
        ("k2", "D", Interval(0, 0)),
        ("k-5", "G", Interval(3, 6)),
    ],
)
def test_a_key_is_reached_the_shorter_way(key, wanted, expected) -> None:
    found = interval_for(wanted, mini.sketch(f"Tune: {key} C5:w"))
    assert found.fifths == expected.fifths
    assert found.chromatic in (expected.chromatic, expected.chromatic - 12)


@pytest.mark.parametrize(
    ("semitones", "key", "fifths"),
    [(1, "k0", -5), (-1, "k0", 5), (3, "k4", 1), (6, "k-3", 3), (-4, "k1", -3), (2, "k6", -4)],
)
def test_semitones_take_the_key_with_fewer_accidentals(semitones, key, fifths) -> None:
    sketch = mini.sketch(f"Tune: {key} C5:w")
    found = by_semitones(semitones, first_key(sketch))
    assert found.chromatic == semitones
    assert first_key(sketch).fifths + found.fifths == fifths


@pytest.mark.parametrize("text", ["Q", "", "M4", "P3", "x5", "M", "H"])
def test_what_is_no_interval_and_no_key_is_refused_by_name(text) -> None:
    with pytest.raises(BadUsage, match=f"'{text}'"):
        interval_for(text, mini.sketch("Tune: C5:w"))


def test_notes_keys_and_symbols_move_together() -> None:
    moved = transposed(mini.sketch(SONG), Interval(-2, -4))
    assert mini.to_text(moved) == mini.to_text(
        mini.sketch("Voice: k-3 Eb4:q 'One' F4 'day' G4 'at' Bb4 'sea' | {Eb} Eb4:w 'home'")
    )


@settings(max_examples=30)
@given(sketches(Traits(1, 2, 3)), st.integers(-11, 11))
def test_every_note_moves_alike_and_no_key_has_more_than_six_accidentals(sketch, way) -> None:
    by = by_semitones(way, first_key(sketch))
    moved = transposed(sketch, by)
    assert by.chromatic == way
    for one, other in zip(heights(sketch), heights(moved), strict=True):
        assert other == one + way
    if way:
        assert all(abs(fifths) <= 6 for fifths in signatures(moved))


def heights(sketch):
    """The sounding semitones of all pitched notes."""
    pitched = (n.pitch for n in notes_of(sketch) if not isinstance(n.pitch, Drum))
    return [pitch.semitone for pitch in pitched]


def signatures(sketch):
    """All key signatures of a score."""
    changes = (c.what for p in sketch.parts for bar in p.bars for c in bar.changes)
    return [what.fifths for what in changes if isinstance(what, Key)]


@pytest.mark.parametrize(
    ("fifths", "mode", "name"),
    [(0, "", "C major"), (-3, "major", "E flat major"), (6, "", "F sharp major"),
     (0, "minor", "A minor"), (-6, "minor", "E flat minor"), (3, "minor", "F sharp minor")],
)  # fmt: skip
def test_keys_have_names(fifths, mode, name) -> None:
    assert key_name(fifths, mode) == name


def test_suggested_keys_lie_in_the_register_and_say_how_well() -> None:
    low = mini.document(SONG.replace("4", "3").replace("D5", "D4"))
    found = find_keys(full_score(low), "soprano")
    assert all(s.interval.chromatic > 0 for s in found)
    assert found[0].comfortable == 1.0
    assert found[0].beyond == 0
    assert str(found[0].low) == str(Sounding.named("G3").moved(found[0].interval))


def test_a_voice_that_is_none_is_refused_by_name() -> None:
    with pytest.raises(BadUsage, match="'kazoo'"):
        find_keys(full_score(mini.document(SONG)), "kazoo")
