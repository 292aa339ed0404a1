"""Voicings by name: their rules on many chords, and what is said of them."""

from __future__ import annotations

from itertools import pairwise

import pytest

from expander.errors import ExpanderError, Spot
from expander.model.pitch import Sounding
from expander.model.score import Harmony
from expander.voicing.harmony import chord_tones, kinds
from expander.voicing.layout import key_of
from expander.voicing.limits import FREE, low_interval_limits
from expander.voicing.price import Terms, sound_faults
from expander.voicing.recipes import candidates, explain, recipe, recipes, voice
from tests.voicing.symbols import chord

CHORDS = ["C", "Gm", "Dm7", "G7", "Cmaj7", "F#m7b5", "Bdim7", "Bb69", "Eb13", "A7(b9)", "C7sus4"]
CHORDS += ["Faug", "Ab5", "D9", "CmMaj7", "CGer", "G/F"]
LEADS = [Sounding.named(n) for n in ("C5", "D5", "Eb5", "E5", "F5", "G5", "A5", "Bb5", "B5")]
SAME = {"unison", "octaves"}


def text(notes):
    return " ".join(str(n) for n in notes)


def sizes(name):
    found = recipes()[name]
    return sorted({found.fewest, min(4, found.most), min(5, found.most), found.most})


@pytest.mark.parametrize("name", recipes())
def test_every_voicing_keeps_its_lead_and_its_number_of_voices(name):
    for symbol in CHORDS:
        for lead in LEADS[::2]:
            for size in sizes(name):
                notes = voice(chord(symbol), lead, name, size)
                assert notes[0] == lead
                assert len(notes) == size


@pytest.mark.parametrize("name", recipes())
def test_every_kind_of_chord_can_be_voiced(name):
    for kind in kinds():
        tones = chord_tones(Harmony(0, (3, 1), kind))
        for lead in [None, LEADS[1]] if tones else []:
            notes = voice(tones, lead, name, sizes(name)[1])
            assert len(notes) == sizes(name)[1], (kind, text(notes))


@pytest.mark.parametrize("name", [n for n in recipes() if n not in SAME])
def test_voices_never_cross_or_meet(name):
    for symbol in CHORDS:
        for lead in LEADS:
            notes = voice(chord(symbol), lead, name, sizes(name)[1], FREE)
            assert all(key_of(a) > key_of(b) for a, b in pairwise(notes)), (symbol, text(notes))


# Worked by hand on the table of limits. Drop 2 for five voices under E4 ends in a third on C3,
# which is free (B2). Under C4 it would end in A2 and C3, a minor third below its limit (C3): close
# position with E3 twice stands for it. Common practice, no source: fewer notes where it is low.
@pytest.mark.parametrize(
    ("symbol", "lead", "notes"),
    [
        ("Cmaj7", "E4", "E4 B3 G3 E3 C3"),
        ("Am7", "C4", "C4 A3 G3 E3 E3"),
    ],
)
def test_a_low_lead_has_fewer_different_notes_below_it(symbol, lead, notes):
    assert text(voice(chord(symbol), Sounding.named(lead), "drop 2", 5)) == notes


@pytest.mark.parametrize("name", ["close", "drop 2", "drop 2 and 4"])
def test_nothing_is_muddy_under_a_low_lead(name):
    limits = low_interval_limits()
    for symbol in CHORDS:
        for lead in ("G3", "A3", "C4", "Eb4"):
            tones = chord(symbol)
            notes = voice(tones, Sounding.named(lead), name, sizes(name)[1])
            keys = [key_of(n) for n in notes]
            assert limits.too_low(keys) == (), (symbol, text(notes))
            assert keys == sorted(keys, reverse=True)


@pytest.mark.parametrize("name", [n for n in recipes() if n not in SAME])
def test_voices_under_the_lead_are_tones_or_tensions_of_the_chord(name):
    for symbol in CHORDS:
        tones = chord(symbol)
        swaps = {t.pitch_class for _, t in tones.instead}
        bass = {tones.lowest.pitch_class}
        for lead in LEADS:
            for note in voice(tones, lead, name, sizes(name)[1])[1:]:
                pitch_class = key_of(note) % 12
                fits = tones.find(pitch_class) or pitch_class in swaps | bass
                assert fits or pitch_class == key_of(lead) % 12, (symbol, str(lead), str(note))


@pytest.mark.parametrize("name", ["close", "drop 2", "drop 3", "drop 2 and 4", "cluster"])
def test_no_minor_second_stands_under_the_lead(name):
    # jazz-arranging textbook ch. 10
    for symbol in CHORDS:
        for lead in LEADS:
            notes = voice(chord(symbol), lead, name, 4)
            assert key_of(notes[0]) - key_of(notes[1]) != 1, (symbol, text(notes))


@pytest.mark.parametrize("symbol", ["Dm7", "G7", "C6", "Cmaj7", "Am7b5"])
def test_four_way_close_has_four_notes_inside_an_octave(symbol):
    # jazz-arranging textbook ch. 10; leads from the chord
    for lead in LEADS:
        if chord(symbol).holds(key_of(lead) % 12):
            keys = [key_of(n) for n in voice(chord(symbol), lead, "close", 4)]
            assert keys[0] - keys[-1] < 12
            assert len({k % 12 for k in keys}) == 4


@pytest.mark.parametrize(
    ("name", "drops"), [("drop 2", [1]), ("drop 3", [2]), ("drop 2 and 4", [1, 3])]
)
def test_a_drop_voicing_is_close_position_with_voices_an_octave_lower(name, drops):
    # harmonyhub.com, Drop Notes
    for symbol in ["Dm7", "G7", "C6", "Am7b5"]:
        for lead in LEADS:
            close = [key_of(n) for n in voice(chord(symbol), lead, "close", 4, FREE)]
            moved = [k - 12 if i in drops else k for i, k in enumerate(close)]
            same_tones = voice(chord(symbol), lead, name, 4, FREE)
            if {k % 12 for k in close} == {key_of(n) % 12 for n in same_tones}:
                assert sorted(moved, reverse=True) == [key_of(n) for n in same_tones]


# A major second under the lead: fine on short notes, not on long ones (textbook ch. 10).
@pytest.mark.parametrize(
    ("symbol", "lead", "long", "notes"),
    [
        ("C6", "A5", False, "A5 G5 E5 C5"),
        ("G7", "G5", False, "G5 F5 D5 B4"),
        ("Dm7", "D5", False, "D5 C5 A4 F4"),
        ("Cmaj7", "B4", False, "B4 G4 E4 C4"),
    ],
)
def test_a_short_lead_may_have_a_major_second_under_it(symbol, lead, long, notes):
    assert text(voice(chord(symbol), Sounding.named(lead), "close", 4, long=long)) == notes


@pytest.mark.parametrize(("symbol", "lead"), [("G9", "G5"), ("Dm9", "F5"), ("C6", "A5")])
def test_a_long_lead_has_no_major_second_under_it_where_a_stand_in_exists(symbol, lead):
    notes = voice(chord(symbol), Sounding.named(lead), "close", 4, long=True)
    gap = key_of(notes[0]) - key_of(notes[1])
    ways = candidates(chord(symbol), recipe("close", 4), 4, Sounding.named(lead))
    assert gap > 2 or all(v.keys[0] - v.keys[1] <= 2 for v in ways)


def test_tensions_come_unasked_only_where_they_are_welcome():
    lead = Sounding.named("C5")
    assert text(voice(chord("Dm7"), lead, "close", 4)) == "C5 A4 F4 D4"
    assert text(voice(chord("Dm7"), lead, "close", 4, rich=True)) == "C5 A4 F4 E4"


def test_a_plain_triad_stays_one():
    for lead in LEADS:
        if chord("C").holds(key_of(lead) % 12):
            notes = voice(chord("C"), lead, "close", 4)
            assert {key_of(n) % 12 for n in notes} == {0, 4, 7}


# Low interval limits: see low_intervals.toml for the charts.
@pytest.mark.parametrize("name", ["close", "drop 2", "drop 3", "spread", "shell"])
def test_free_voicings_keep_the_low_interval_limits(name):
    terms = Terms(limits=low_interval_limits(), low=36, high=72)
    for symbol in ["Dm7", "G7", "Cmaj7", "Ebm7b5"]:
        size = sizes(name)[1]
        best = candidates(chord(symbol), recipe(name, size), size, None, terms)[0]
        assert "too_low" not in sound_faults(best.keys, chord(symbol), terms)


@pytest.mark.parametrize("name", ["close", "drop 2", "spread", "rootless", "fourths"])
def test_free_voicings_stay_in_the_players_compass(name):
    terms = Terms(low=50, high=74)
    for symbol in ["Dm7", "G7", "Cmaj7"]:
        best = candidates(chord(symbol), recipe(name, 4), 4, None, terms)[0]
        assert 50 <= min(best.keys) <= max(best.keys) <= 74


@pytest.mark.parametrize(
    ("symbol", "lowest"), [("G/F", "F"), ("C/E", "E"), ("C/D", "D"), ("Am7", "A"), ("CN", "F")]
)
def test_a_spread_stands_on_the_bass_that_the_symbol_asks_for(symbol, lowest):
    for size in (4, 5, 6):
        assert voice(chord(symbol), None, "spread", size)[-1].name == lowest


def test_spreads_follow_the_sheet_for_four_saxophones():
    # "Four-Way Sax Spreads", scribd 367202657: root lowest, seventh and third in the tenors, no
    # gap above a seventh but the lowest (a tenth)
    for symbol in ["Dm7", "G7", "Cmaj7", "Fmaj7", "Bm7b5"]:
        tones = chord(symbol)
        for lead in LEADS:
            if not tones.holds(key_of(lead) % 12) or tones.slot_of(key_of(lead) % 12) != "fifth":
                continue
            keys = [key_of(n) for n in voice(tones, lead, "spread", 4)]
            gaps = [a - b for a, b in pairwise(keys)]
            assert {tones.slot_of(k % 12) for k in keys[1:3]} == {"third", "seventh"}
            assert max(gaps[:-1]) <= 12
            assert gaps[-1] <= 16


def test_octaves_share_the_voices_out():
    lead = Sounding.named("C5")
    assert text(voice(chord("C"), lead, "octaves", 5)) == "C5 C5 C5 C4 C4"
    assert text(voice(chord("C"), lead, "octaves", 6)) == "C5 C5 C4 C4 C3 C3"
    assert text(voice(chord("C"), lead, "unison", 3)) == "C5 C5 C5"


def test_every_voicing_is_explained_with_an_example_of_its_own():
    found = explain()
    assert [e.name for e in found] == list(recipes())
    assert all(e.says and "\n" not in e.says for e in found)
    assert all(len(e.notes) >= 2 for e in found)
    by_name = {e.name: e for e in found}
    assert by_name["drop 2"].notes == ("C5", "G4", "E4", "A3")
    assert by_name["triad over bass"].chord == "G dominant-13th b9"


@pytest.mark.parametrize(
    ("name", "size", "says"),
    [
        ("dorp 2", 4, "'dorp 2' is not a voicing. Did you mean 'drop 2'?"),
        ("nothing like it", 4, "'nothing like it' is not a voicing. There are: unison, octaves,"),
        ("shell", 7, "The voicing 'shell' is for 2 to 4 voices, not 7."),
        ("drop 2 and 4", 3, "The voicing 'drop 2 and 4' is for 4 to 10 voices, not 3."),
    ],
)
def test_a_wrong_name_or_number_is_explained(name, size, says):
    with pytest.raises(ExpanderError) as caught:
        recipe(name, size, Spot("rules.yaml", 7, 3))
    assert caught.value.message.startswith(f"rules.yaml:7:3: {says}")


def test_quarter_tones_in_the_lead_are_kept():
    from fractions import Fraction

    lead = Sounding(0, Fraction(1, 2), 5)
    assert voice(chord("C6"), lead, "close", 4)[0] == lead
