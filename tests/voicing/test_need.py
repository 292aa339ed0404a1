"""Which notes a chord needs. Basis: common practice."""

from __future__ import annotations

import pytest

from expander.model.pitch import Sounding
from expander.voicing.need import figure, needs_of, role, root_of

ROOTS = [
    ("C3 E3 G3", "C"),
    ("E3 G3 C4", "C"),
    ("G3 C4 E4", "C"),
    ("A3 C4 E4", "A"),
    ("G3 B3 D4 F4", "G"),
    ("F3 G3 B3 D4", "G"),
    ("B3 D4 F4", "B"),
    ("C3 E3 G3 A3", "C"),
    ("A3 C4 E4 G4", "A"),
    ("C3 F3 G3", "C"),
    ("D3 F#3 A3 C4 E4", "D"),
    ("C3 G3", "C"),
    ("C3 E3", "C"),
    ("Bb2 D3 Ab3", "Bb"),
]


def semitones(text: str) -> list[int]:
    return [int(Sounding.named(name).semitone) for name in text.split()]


@pytest.mark.parametrize(("chord", "root"), ROOTS)
def test_the_root_is_found_from_the_notes(chord, root):
    pitches = semitones(chord)
    expected = int(Sounding.named(root + "3").semitone) % 12
    assert root_of(frozenset(p % 12 for p in pitches), pitches[0] % 12) == expected


def test_a_single_pitch_has_no_root_of_its_own():
    assert root_of(frozenset({0}), 0) is None


@pytest.mark.parametrize(
    ("interval", "above", "expected"),
    [
        (0, {0, 4, 7}, "root"),
        (3, {0, 3, 7}, "third"),
        (3, {0, 3, 4, 10}, "tension"),
        (5, {0, 5, 7}, "third"),
        (5, {0, 3, 5, 7, 10}, "tension"),
        (6, {0, 3, 6}, "altered"),
        (6, {0, 4, 6, 7, 11}, "tension"),
        (7, {0, 4, 7}, "fifth"),
        (8, {0, 4, 8}, "altered"),
        (9, {0, 4, 7, 9}, "seventh"),
        (9, {0, 4, 9, 10}, "tension"),
        (10, {0, 4, 7, 10}, "seventh"),
    ],
)
def test_a_note_has_its_role_by_its_interval_and_its_company(interval, above, expected):
    assert role(interval, frozenset(above)) == expected


def test_top_bass_third_and_seventh_come_before_all_others():
    needs = needs_of(semitones("G4 D4 B3 F3 G2"))
    assert needs == tuple(figure(n) for n in ("top", "fifth", "third", "seventh", "bass"))


def test_doublings_are_least_needed_the_fifth_first():
    needs = needs_of(semitones("E5 G4 E4 C4 G3 C3"))
    assert needs[1:5] == tuple(
        figure(n) for n in ("fifth", "doubled", "doubled root", "doubled fifth")
    )


def test_no_notes_need_nothing():
    assert needs_of([]) == ()
