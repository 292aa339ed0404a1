"""Phrases into ranges, worked by hand.

Ranges: the flute's lowest note is C4, the violin's G3 (its lowest string), the trumpet in B flat
sounds from E3 to B flat 5, the horn from B1 to F5, as the catalogue has them with their sources;
so are their comfortable registers (the flute's from D4). What a phrase does is common practice, no
source: it keeps together where it moves by step, goes on level with what is near it, and gives up
single notes that are reached by leap.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from expander.catalogue.loader import instrument
from tests import mini
from tests.fitting.lines import fitted, plain

OCTAVE = {
    "in range it stays": ("flute", "C4:q D4 E4 F4 | G4:w", "C4:q D4 E4 F4 | G4:w"),
    "one low note takes its phrase along": (
        "flute",
        "E4:q D4 C4 B3 | C4:w",
        "E5:q D5 C5 B4 | C5:w",
    ),
    "too high, an octave down": ("trumpet-bb", "A5:q B5 C6 A5", "A4:q B4 C5 A4"),
    "two octaves where one is not enough": ("flute", "D2:w | E2:w", "D4:w | E4:w"),
    "past a weak register": ("flute", "C3:w | D3:w", "C5:w | D5:w"),
    "not past it for a note": ("flute", "C3:q D3 E3 F3", "C4:q D4 E4 F4"),
    "a near neighbour goes along": (
        "violin",
        "B3:q A3 F3 r | A3:q B3 C4 r",
        "B4:q A4 F4 r | A4:q B4 C5 r",
    ),
    "a far one stays": (
        "violin",
        "B3:q A3 F3 r | R | R | A3:q B3 C4 r",
        "B4:q A4 F4 r | R | R | A3:q B3 C4 r",
    ),
    "a phrase between two that must move goes along": (
        "violin",
        "F3:h A3:q r | C4:h B3:q r | F3:h A3:q r",
        "F4:h A4:q r | C5:h B4:q r | F4:h A4:q r",
    ),
    "a tie keeps its note whole": ("flute", "B3~:w | B3:h D4", "B4~:w | B4:h D5"),
    "graces go with their note": ("flute", "^A3 B3:w", "^A4 B4:w"),
    "a chord moves as it stands": ("violin", "F3+D4:w", "F4+D5:w"),
    "a short rest does not part a phrase": (
        "flute",
        "E4:q. r:e D4:q B3",
        "E5:q. r:e D5:q B4",
    ),
}


@pytest.mark.parametrize(("who", "music", "expected"), OCTAVE.values(), ids=OCTAVE)
def test_a_phrase_out_of_range_moves_by_octaves(who, music, expected):
    (line,), _ = fitted(music, who)
    assert line == plain(expected)


# The clarinet in B flat sounds from D3, its comfortable register ends with C6; the viola from C3.
# Bassoon and cello: B flat 1 and C2, the lowest notes.
FOLDED = {
    "a bass note reached by leap goes by itself": (
        "clarinet-bb",
        "Bb2:e Ab4 Ab4 Ab4 Ab4 Ab4 r:q | Eb3:e G5 G5 G5 G5 G5 r:q",
        "Bb3:e Ab4 Ab4 Ab4 Ab4 Ab4 r:q | Eb3:e G5 G5 G5 G5 G5 r:q",
    ),
    "nobody is sent into a strained register for it": (
        "clarinet-bb",
        "Bb2:e C6 Bb5 Ab5 G5 Ab5 Bb5 C6",
        "Bb3:e C6 Bb5 Ab5 G5 Ab5 Bb5 C6",
    ),
    "an octave down becomes the same note again": (
        "cello",
        "E3:q F3 E3 D3 | C3:q D3 B2 B1 | B2:q C3 D3 E3",
        "E3:q F3 E3 D3 | C3:q D3 B2 B2 | B2:q C3 D3 E3",
    ),
    "a fifth down turns into a fourth up": (
        "viola",
        "F3:q G3 A3 G3 | F3:q Bb2 F3 G3 | A3:q G3 F3 G3",
        "F3:q G3 A3 G3 | F3:q Bb3 F3 G3 | A3:q G3 F3 G3",
    ),
    "a figure with a low note in every bar goes whole, the same way each time": (
        "viola",
        "Bb2:e F3 D4 F3 Bb2 F3 D4 F3 | Bb2:e F3 D4 F3 Bb2 F3 D4 F3 | A2:e F3 C4 F3 A2 F3 C4 F3",
        "Bb3:e F4 D5 F4 Bb3 F4 D5 F4 | Bb3:e F4 D5 F4 Bb3 F4 D5 F4 | A3:e F4 C5 F4 A3 F4 C5 F4",
    ),
    "a short phrase goes whole": ("viola", "F3:q Bb2 F3 r", "F4:q Bb3 F4 r"),
    "from a rest on": (
        "viola",
        "E4:q F4 G4 A4 | F4:q. r:e Bb2:q A2 | Bb2:w",
        "E4:q F4 G4 A4 | F4:q. r:e Bb3:q A3 | Bb3:w",
    ),
    "a slur goes whole": (
        "viola",
        "C4:q( F3 Bb2 F3) | C4:q( F3 Bb2 F3)",
        "C5:q( F4 Bb3 F4) | C5:q( F4 Bb3 F4)",
    ),
    "a slur too wide for that is parted, best at a barline": (
        "flute",
        "Db6:e( Bb5 G5 E5 Db5 Bb4 G4 E4 | Db4:e Bb3 G3 E3) r:h",
        "Db6:e( Bb5 G5 E5 Db5 Bb4 G4 E4 | Db5:e Bb4 G4 E4) r:h",
    ),
}


@pytest.mark.parametrize(("who", "music", "expected"), FOLDED.values(), ids=FOLDED)
def test_notes_out_of_reach_go_by_themselves_where_the_line_can_stand_it(who, music, expected):
    (line,), _ = fitted(music, who)
    assert line == plain(expected)


# A phrase wider than the instrument's compass has no octave (A1 to E6 are 55 semitones, the horn
# has 42; C2 to A5: 45): each end of it goes where it lies well.
WIDE = {
    "at a short rest": ("horn", "C3:q A1:e r D6:q E6", "C4:q A2:e r D4:q E4"),
    "between notes": ("horn", "C2:q C2 A5 A5", "C3:q C3 A4 A4"),
}


@pytest.mark.parametrize(("who", "music", "expected"), WIDE.values(), ids=WIDE)
def test_a_phrase_too_wide_for_any_octave_is_parted(who, music, expected):
    (line,), _ = fitted(music, who)
    assert line == plain(expected)


# B flat 1 and B flat 4 are 36 semitones, the violin's G3 to E7 45 (in sketches as wide as a piano's
# two hands): G2 and G6 are 48, so that no octave of the chord is in range.
HEADS = {
    "the head out of range goes by itself": ("violin", "G2+G6:h D4:h", "G3+G6:h D4:h"),
    "not onto another": ("violin", "G2+G3+G6:w", "G4+G3+G6:w"),
    "tied heads alike": ("violin", "G2~+G6~:w | G2+G6:w", "G3~+G6~:w | G3+G6:w"),
}


@pytest.mark.parametrize(("who", "music", "expected"), HEADS.values(), ids=HEADS)
def test_a_chord_too_wide_for_any_octave_folds_head_by_head(who, music, expected):
    (line,), found = fitted(music, who)
    assert heads(line) == heads(plain(expected))
    assert ["too low as it stood" in f.message for f in found] == [True]


def heads(text):
    """The chords of a line, their heads in any order."""
    return [sorted(word.partition(":")[0].split("+")) for word in text.split()]


def steps_of(line: str) -> list[int]:
    heights = [int(word[1]) for word in line.split() if word[0] in "CDE"]
    return [b - a for a, b in pairwise(heights)]


def test_a_slur_is_parted_only_where_a_note_would_stay_out_of_range():
    (whole,), _ = fitted("C2:q( D2 C3 E3)", "horn")
    (parted,), _ = fitted("C1:q( D3 C6 E6)", "horn")
    assert steps_of(whole) == [0, 1, 0]
    assert steps_of(parted) != [2, 3, 0]
    sounding = [mini.sketch(f"A: {parted}").parts[0].bars[0].layers[0]]
    heights = [n.pitch.semitone for layer in sounding for e in layer for n in e.notes]
    horn = instrument("horn")
    low, high = horn.sounding(horn.professional)
    assert all(low.semitone <= height <= high.semitone for height in heights)


# Rimsky-Korsakov (as the catalogue's table of registers has it): the flute's low octave is at some
# 0.6 of its strength, the next at all of it. Sixteen quarters at f want the strong octave.
@pytest.mark.parametrize(
    ("dynamic", "expected"),
    [
        ("", "B4:w | C5:w | B4:w | C5:w"),
        ("p", "B4:w | C5:w | B4:w | C5:w"),
        ("f", "B5:w | C6:w | B5:w | C6:w"),
        ("ff", "B5:w | C6:w | B5:w | C6:w"),
    ],
)
def test_a_loud_phrase_goes_where_the_instrument_is_strong(dynamic, expected):
    (line,), _ = fitted("B3:w | C4:w | B3:w | C4:w", "flute", dynamic=dynamic)
    assert line == plain(expected)


MOVES = {
    "too low": ("flute", "B3:q C4 D4 r | R | R", "bar 1 moved an octave up (too low as it stood)"),
    "too high": ("trumpet-bb", "C6:w", "bar 1 moved an octave down (too high as it stood)"),
    "some": (
        "clarinet-bb",
        "C4:q D4 C4 D4 | C4:q G4 Bb2 G4 | C4:w",
        "some notes of bar 2 moved an octave up (too low as it stood)",
    ),
    "two": ("flute", "D2:w | E2:w", "bars 1 to 2 moved 2 octaves up (too low as it stood)"),
}


@pytest.mark.parametrize(("who", "music", "words"), MOVES.values(), ids=MOVES)
def test_each_move_is_told_with_its_place_and_reason(who, music, words):
    _, found = fitted(music, who)
    assert [words in f.message for f in found] == [True]
    assert {(f.check, f.part) for f in found} == {("moved-by-octave", who)}


def test_nothing_is_told_where_nothing_moves():
    assert fitted("C4:w", "flute")[1] == []


# -- who decides ---------------------------------------------------------------------------


def test_a_solo_line_stays_unless_the_rule_says_otherwise():
    (line,), found = fitted("B3:w", "flute", fit="")
    assert (line, found) == (plain("B3:w"), [])


def test_players_who_double_a_line_each_get_it_in_range():
    lines, _ = fitted("B3:w", "flute", "violin", fit="")
    assert lines == [plain("B4:w"), plain("B3:w")]


def test_what_is_to_be_kept_is_kept():
    lines, found = fitted("B3:w", "flute", "violin", fit="keep")
    assert (lines, found) == ([plain("B3:w")] * 2, [])


def test_the_octave_of_the_rule_comes_before_fitting():
    (line,), found = fitted("C5:w", "flute", octave=-1)
    assert (line, found) == (plain("C4:w"), [])


HANDED = {
    "to the first who has it": (
        ["flute", "clarinet-bb"],
        "C4:q D4 E4 r | A3:q B3 C4 r | C4:w",
        ["C4:q D4 E4 | _ | C4:w", "_ | A3:q B3 C4 | _"],
    ),
    "past one who lacks it too": (
        ["flute", "oboe", "clarinet-bb"],
        "F3:q G3 A3 r",
        ["F3:q G3 A3 r"],
    ),
    "kept where nobody has it": (["flute", "violin"], "C2:w", ["C2:w"]),
}


@pytest.mark.parametrize(("players", "music", "expected"), HANDED.values(), ids=HANDED)
def test_a_phrase_is_handed_over_whole(players, music, expected):
    lines, _ = fitted(music, *players, fit="hand over")
    assert [notes(line) for line in lines] == [notes(plain(text)) for text in expected]


def notes(text):
    """The notes of a line bar by bar, without rests and gaps."""
    bars = text.split(" | ")
    return [[word for word in bar.split() if word[0] in "ABCDEFG"] for bar in bars]


def test_who_takes_a_phrase_over_is_told():
    _, found = fitted("C4:w | R | A3:w", "flute", "clarinet-bb", fit="hand over")
    (one,) = found
    assert one.message == ("The phrase from bar 3 is out of range for flute; clarinet-bb takes it.")
    assert (one.check, one.part, one.bar) == ("handed-over", "clarinet-bb", "3")


def test_in_octaves_each_plays_in_the_register_of_their_own():
    lines, _ = fitted("B4:w | A4:w", "flute", "bassoon", spacing="octaves")
    assert lines == [plain("B4:w | A4:w"), plain("B3:w | A3:w")]
