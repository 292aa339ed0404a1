"""The door to music21: keys and intervals, imported only when asked for."""

from __future__ import annotations

import subprocess
import sys

import pytest

from expander.model.pitch import Sounding
from expander.theory import interval_name, key_of


def notes(text):
    return [(Sounding.named(n), 1) for n in text.split()]


@pytest.mark.parametrize(
    ("melody", "tonic", "mode", "fifths"),
    [
        ("C4 D4 E4 F4 G4 A4 B4 C5 G4 E4 C4", (0, 0), "major", 0),
        ("A4 B4 C5 D5 E5 F5 G#5 A5 E5 C5 A4", (5, 0), "minor", 0),
        ("Bb3 C4 D4 Eb4 F4 G4 A4 Bb4 F4 D4 Bb3", (6, -1), "major", -2),
        ("F#4 G#4 A4 B4 C#5 D5 E#5 F#5 C#5 A4 F#4", (3, 1), "minor", 3),
    ],
)
def test_a_scale_is_in_its_key(melody, tonic, mode, fifths):
    found = key_of(notes(melody))
    assert (found.tonic, found.mode, found.fifths) == (tonic, mode, fifths)
    assert 0.5 < found.certainty <= 1


def test_no_notes_have_no_key():
    assert key_of([]) is None
    assert key_of([(Sounding.named("C4"), 0)]) is None


@pytest.mark.parametrize(
    ("low", "high", "name"),
    [("C4", "Eb4", "Minor Third"), ("F3", "B3", "Augmented Fourth"), ("C4", "E5", "Major Tenth")],
)
def test_an_interval_has_its_name(low, high, name):
    assert interval_name(Sounding.named(low), Sounding.named(high)) == name


def test_opening_the_door_does_not_load_the_library():
    code = "import sys, expander.theory; print('music21' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"
