"""Instruments against music21, the MusicXML 4.0 sound list, General MIDI and published order."""

from itertools import pairwise
from pathlib import Path

import pytest

from expander.catalogue.loader import instrument, instrument_ids, instruments
from expander.catalogue.naming import by_name, instrument_named
from expander.errors import BadUsage
from expander.model.pitch import Sounding, Transposition, Written

DATA = Path(__file__).parent / "data"
SOUNDS = {
    line
    for line in (DATA / "musicxml-4.0-sounds.txt").read_text(encoding="utf-8").split("\n")
    if line and not line.startswith("#")
}

# id, music21 class, which of our figures music21's lowest note is ("" none given), and whether
# music21 gives it sounding where we write it an octave higher.
MUSIC21 = [
    ("piccolo", "Piccolo", "professional"),
    ("flute", "Flute", "professional"),
    ("oboe", "Oboe", "professional"),
    ("cor-anglais", "EnglishHorn", "professional"),
    ("clarinet-bb", "Clarinet", "professional"),
    ("bass-clarinet", "BassClarinet", "professional"),
    ("bassoon", "Bassoon", "professional"),
    ("contrabassoon", "Contrabassoon", "widest"),
    ("soprano-sax", "SopranoSaxophone", "professional"),
    ("alto-sax", "AltoSaxophone", "professional"),
    ("tenor-sax", "TenorSaxophone", "professional"),
    ("baritone-sax", "BaritoneSaxophone", "professional"),
    ("horn", "Horn", "widest"),
    ("trumpet-bb", "Trumpet", "professional"),
    ("tenor-trombone", "Trombone", "professional"),
    ("bass-trombone", "BassTrombone", "widest"),
    ("tuba", "Tuba", "widest"),
    ("timpani", "Timpani", ""),
    ("glockenspiel", "Glockenspiel", ""),
    ("xylophone", "Xylophone", ""),
    ("vibraphone", "Vibraphone", ""),
    ("marimba", "Marimba", ""),
    ("tubular-bells", "TubularBells", ""),
    ("harp", "Harp", "professional"),
    ("piano", "Piano", "professional"),
    ("celesta", "Celesta", ""),
    ("harpsichord", "Harpsichord", "professional"),
    ("organ", "PipeOrgan", "professional"),
    ("acoustic-guitar", "AcousticGuitar", "professional"),
    ("electric-guitar", "ElectricGuitar", "professional"),
    ("electric-bass", "ElectricBass", "professional"),
    ("violin", "Violin", "professional"),
    ("viola", "Viola", "professional"),
    ("cello", "Violoncello", "professional"),
    ("double-bass", "Contrabass", "professional"),
    ("soprano", "Soprano", ""),
    ("mezzo-soprano", "MezzoSoprano", ""),
    ("alto", "Alto", ""),
    ("tenor", "Tenor", ""),
    ("baritone", "Baritone", ""),
    ("bass", "Bass", ""),
]

# Where music21 has no transposition though the instrument is written in another octave (it means
# sounding pitch there). Ours follows the handbooks; see the sources in the data files.
WRITTEN_IN_ANOTHER_OCTAVE = {
    "contrabassoon": -1,  # music21's B-1 is the written low note, without the octave
    "glockenspiel": 2,
    "xylophone": 1,
    "celesta": 1,
    "acoustic-guitar": -1,
    "electric-guitar": -1,
    "electric-bass": -1,
}
LOWEST_IS_SOUNDING = {"acoustic-guitar", "electric-guitar", "electric-bass"}
# Sounds that music21 names otherwise: a generic id for ours of one key, or one that the MusicXML
# list does not have at all (piccolo).
SOUND_DIFFERS = {
    "piccolo": "wind.flutes.piccolo",
    "clarinet-bb": "wind.reed.clarinet",
    "contrabassoon": "wind.reed.bassoon",
    "trumpet-bb": "brass.trumpet",
    "tenor-trombone": "brass.trombone",
}
# General MIDI programs (counted from 1) where music21 differs.
PROGRAM_DIFFERS = {
    "electric-guitar": (28, 27),  # ours clean, music21's jazz guitar
    # ours the choir patch, music21's the next one (solo voices)
    **dict.fromkeys(("soprano", "mezzo-soprano", "alto", "tenor", "baritone", "bass"), (53, 54)),
}


def music21_of(name):
    from music21 import instrument as m21

    return getattr(m21, name)()


@pytest.mark.parametrize(("ident", "name", "figure"), MUSIC21)
def test_the_transposition_is_that_of_music21(ident, name, figure):
    theirs = music21_of(name).transposition
    chromatic, diatonic = (theirs.semitones, theirs.generic.staffDistance) if theirs else (0, 0)
    octaves = WRITTEN_IN_ANOTHER_OCTAVE.get(ident, 0)
    ours = instrument(ident).transposition.interval
    assert (ours.diatonic, ours.chromatic) == (diatonic + 7 * octaves, chromatic + 12 * octaves)


@pytest.mark.parametrize(("ident", "name", "figure"), [row for row in MUSIC21 if row[2]])
def test_the_lowest_note_is_that_of_music21(ident, name, figure):
    one = instrument(ident)
    ours = getattr(one, figure).low
    if ident in LOWEST_IS_SOUNDING:
        ours = one.transposition.sounding(ours)
    assert int(ours.semitone) == music21_of(name).lowestNote.midi


@pytest.mark.parametrize(("ident", "name", "figure"), MUSIC21)
def test_the_sound_id_is_that_of_music21(ident, name, figure):
    assert SOUND_DIFFERS.get(ident, instrument(ident).sound) == music21_of(name).instrumentSound


@pytest.mark.parametrize(("ident", "name", "figure"), MUSIC21)
def test_the_midi_program_is_that_of_music21(ident, name, figure):
    ours, theirs = instrument(ident).program, music21_of(name).midiProgram + 1
    assert (ours, theirs) == PROGRAM_DIFFERS.get(ident, (theirs, theirs))


def test_every_stated_difference_from_music21_is_one():
    for ident, theirs in SOUND_DIFFERS.items():
        assert instrument(ident).sound != theirs


# General MIDI Level 1 sound set (MIDI Manufacturers Association): patches that music21 has no
# class of ours for.
GENERAL_MIDI = [
    ("alto-flute", 74),  # flute
    ("bass-flute", 74),
    ("oboe-damore", 69),  # oboe
    ("clarinet-eb", 72),  # clarinet
    ("clarinet-a", 72),
    ("contrabass-clarinet", 72),
    ("trumpet-c", 57),  # trumpet
    ("cornet", 57),
    ("flugelhorn", 57),
    ("alto-trombone", 58),  # trombone
    ("euphonium", 58),
    ("crotales", 10),  # glockenspiel
]


@pytest.mark.parametrize(("ident", "program"), GENERAL_MIDI)
def test_what_general_midi_lacks_has_its_nearest_program(ident, program):
    assert instrument(ident).program == program


# General MIDI percussion key map: the key as General MIDI counts, so MusicXML has one more.
# music21.midi.percussion gives the same keys by its own classes where it has them.
KEYS = [
    ("snare-drum", "snare drum", 38),
    ("bass-drum", "bass drum", 35),
    ("crash-cymbals", "crash cymbals", 49),
    ("suspended-cymbal", "suspended cymbal", 57),
    ("triangle", "open triangle", 81),
    ("triangle", "muted triangle", 80),
    ("tambourine", "tambourine", 54),
    ("tam-tam", "tam-tam", 52),
    ("wood-block", "high wood block", 76),
    ("wood-block", "low wood block", 77),
    ("drum-set", "bass drum", 36),
    ("drum-set", "snare drum", 38),
    ("drum-set", "closed hi-hat", 42),
    ("drum-set", "pedal hi-hat", 44),
    ("drum-set", "open hi-hat", 46),
    ("drum-set", "crash cymbal", 49),
    ("drum-set", "ride cymbal", 51),
    ("drum-set", "floor tom", 43),
]


@pytest.mark.parametrize(("ident", "sound", "key"), KEYS)
def test_drum_keys_are_those_of_general_midi_counted_from_one(ident, sound, key):
    assert dict(instrument(ident).drum_keys)[sound] == key + 1


MUSIC21_KEYS = [
    ("bass-drum", "bass drum", "BassDrum"),
    ("snare-drum", "snare drum", "SnareDrum"),
    ("crash-cymbals", "crash cymbals", "CrashCymbals"),
    ("tambourine", "tambourine", "Tambourine"),
    ("triangle", "open triangle", "Triangle"),
    ("wood-block", "high wood block", "Woodblock"),
    ("drum-set", "closed hi-hat", "HiHatCymbal"),
    ("drum-set", "floor tom", "TomTom"),
]


@pytest.mark.parametrize(("ident", "sound", "name"), MUSIC21_KEYS)
def test_music21_reads_our_drum_keys_as_the_same_drums(ident, sound, name):
    from music21.midi.percussion import PercussionMapper

    key = dict(instrument(ident).drum_keys)[sound] - 1
    assert type(PercussionMapper().midiPitchToInstrument(key)).__name__ == name


# Written C5 sounds: clarinet sizes, saxophones, low flutes and the rest as the Orchestra Library's
# table of ranges and any handbook have them; brass and percussion likewise.
SOUNDING = [
    ("piccolo", "C6"),
    ("alto-flute", "G4"),
    ("bass-flute", "C4"),
    ("oboe-damore", "A4"),
    ("cor-anglais", "F4"),
    ("clarinet-eb", "Eb5"),
    ("clarinet-bb", "Bb4"),
    ("clarinet-a", "A4"),
    ("bass-clarinet", "Bb3"),
    ("contrabass-clarinet", "Bb2"),
    ("soprano-sax", "Bb4"),
    ("alto-sax", "Eb4"),
    ("tenor-sax", "Bb3"),
    ("baritone-sax", "Eb3"),
    ("contrabassoon", "C4"),
    ("horn", "F4"),
    ("trumpet-c", "C5"),
    ("trumpet-bb", "Bb4"),
    ("cornet", "Bb4"),
    ("flugelhorn", "Bb4"),
    ("alto-trombone", "C5"),
    ("glockenspiel", "C7"),
    ("crotales", "C7"),
    ("xylophone", "C6"),
    ("celesta", "C6"),
    ("acoustic-guitar", "C4"),
    ("electric-bass", "C4"),
    ("double-bass", "C4"),
    ("tenor", "C5"),  # written as it sounds: the clef has the 8
]


@pytest.mark.parametrize(("ident", "sounds"), SOUNDING)
def test_a_written_c_sounds_as_the_handbooks_say(ident, sounds):
    heard = instrument(ident).transposition.sounding(Written.named("C5"))
    assert heard == Sounding.named(sounds)


@pytest.mark.parametrize("ident", instrument_ids())
def test_the_sound_stands_in_the_musicxml_sound_list(ident):
    assert instrument(ident).sound in SOUNDS


# Orchestra: A. Hugill, The Orchestra: A User's Manual (layouts), and B. Blood, Music Theory
# Online, lesson 26. Order of saxophones, percussion and keyboards: common practice.
PUBLISHED_ORDER = [
    "piccolo",
    "flute",
    "oboe",
    "cor-anglais",
    "clarinet-bb",
    "bass-clarinet",
    "bassoon",
    "contrabassoon",
    "horn",
    "trumpet-bb",
    "tenor-trombone",
    "bass-trombone",
    "euphonium",
    "tuba",
    "timpani",
    "snare-drum",
    "harp",
    "piano",
    "soprano",
    "alto",
    "tenor",
    "bass",
    "violin",
    "viola",
    "cello",
    "double-bass",
]


def test_score_order_is_the_published_one():
    ours = [one.id for one in instruments() if one.id in PUBLISHED_ORDER]
    assert ours == PUBLISHED_ORDER


def test_no_two_instruments_have_one_place_in_the_order():
    assert len({one.order for one in instruments()}) == len(instruments()) == 62


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_every_figure_has_a_basis_and_a_source(one):
    assert one.evidence
    for evidence in one.evidence:
        assert evidence.basis in {"published", "common practice", "memory"}
        assert evidence.sources
        if evidence.basis == "published":
            assert any("common practice" not in source for source in evidence.sources)
        if evidence.basis == "memory":
            assert all("from memory" in source for source in evidence.sources)


@pytest.mark.parametrize("one", [one for one in instruments() if one.pitched], ids=lambda i: i.id)
def test_each_range_lies_inside_the_wider_one(one):
    ranges = (one.student, one.comfortable, one.professional, one.widest)
    for narrow, wide in pairwise(ranges):
        assert wide.holds(narrow.low) and wide.holds(narrow.high)


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_pitched_instruments_have_ranges_and_unpitched_ones_drum_sounds(one):
    assert one.pitched == (one.family != "unpitched percussion")
    assert one.pitched != bool(one.drum_keys)
    assert [name for name, _ in one.drum_keys] == [name for name, _, _ in one.drum_places]


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_only_winds_and_singers_breathe(one):
    assert one.breath == (one.family in {"woodwind", "brass", "voice"})


# Tunings: strings as in any tutor; guitars in standard tuning (common practice).
STRINGS = [
    ("violin", "G3 D4 A4 E5"),
    ("viola", "C3 G3 D4 A4"),
    ("cello", "C2 G2 D3 A3"),
    ("double-bass", "E1 A1 D2 G2"),
    ("electric-bass", "E1 A1 D2 G2"),
    ("acoustic-guitar", "E2 A2 D3 G3 B3 E4"),
    ("harp", ""),
]


@pytest.mark.parametrize(("ident", "tuning"), STRINGS)
def test_open_strings_are_the_usual_tuning(ident, tuning):
    assert " ".join(str(string) for string in instrument(ident).strings) == tuning


@pytest.mark.parametrize(("ident", "name", "figure"), [row for row in MUSIC21 if row[0] in
    {"violin", "viola", "cello", "acoustic-guitar", "electric-bass"}])  # fmt: skip
def test_open_strings_are_those_of_music21(ident, name, figure):
    theirs = [pitch.midi for pitch in music21_of(name).stringPitches]
    assert [int(string.semitone) for string in instrument(ident).strings] == theirs


@pytest.mark.parametrize("ident", ["violin", "viola", "cello", "double-bass"])
def test_the_lowest_string_is_the_lowest_note(ident):
    one = instrument(ident)
    assert one.transposition.sounding(one.professional.low) == one.strings[0]


CLEFS = [
    ("violin", [["G2"]]),
    ("viola", [["C3", "G2"]]),
    ("cello", [["F4", "C4", "G2"]]),
    ("bassoon", [["F4", "C4", "G2"]]),
    ("tenor-trombone", [["F4", "C4"]]),
    ("alto-trombone", [["C3", "C4"]]),
    ("horn", [["G2", "F4"]]),
    ("harp", [["G2", "F4"], ["F4", "G2"]]),
    ("piano", [["G2", "F4"], ["F4", "G2"]]),
    ("organ", [["G2", "F4"], ["F4", "G2"], ["F4"]]),
    ("tenor", [["G2 -1"]]),
    ("snare-drum", [["percussion0"]]),
]


@pytest.mark.parametrize(("ident", "clefs"), CLEFS)
def test_clefs_are_the_usual_ones_the_default_first(ident, clefs):
    def shown(clef):
        return f"{clef.sign}{clef.line}" + (f" {clef.octave}" if clef.octave else "")

    assert [[shown(habit.clef) for habit in staff] for staff in instrument(ident).clefs] == clefs


def test_bassoon_tenor_clef_never_goes_below_f3():
    # published: B. Newton, bandestration.com (April 2015)
    tenor = instrument("bassoon").clefs[0][1]
    assert tenor.low == Written.named("F3")


OCTAVES_KEPT = ["piccolo", "contrabassoon", "glockenspiel", "xylophone", "celesta", "double-bass"]


@pytest.mark.parametrize("ident", [*OCTAVES_KEPT, "acoustic-guitar", "crotales", "bass-flute"])
def test_octave_instruments_keep_their_octave_in_a_concert_score(ident):
    assert instrument(ident).concert_keeps


@pytest.mark.parametrize("ident", ["flute", "clarinet-bb", "bass-clarinet", "tenor-sax", "horn"])
def test_others_do_not(ident):
    assert not instrument(ident).concert_keeps


def test_an_unknown_instrument_is_answered_with_the_nearest():
    with pytest.raises(BadUsage, match=r"no instrument 'basoon' .* Did you mean 'bassoon'\?"):
        instrument("basoon")


@pytest.mark.parametrize("one", instruments(), ids=lambda one: one.id)
def test_an_instrument_is_found_by_its_own_names(one):
    key = f" in {one.key}" if one.key else ""
    assert instrument_named(one.id) == one
    assert instrument_named(one.name + key) == one


def test_names_shared_by_different_instruments_are_few_and_known():
    shared = {name for name, found in by_name().items() if len({one.name for one in found}) > 1}
    assert shared == {"flugel"}  # the grand piano's German name and the horn's English one


def test_transposition_of_none_is_none():
    assert instrument("flute").transposition == Transposition()
