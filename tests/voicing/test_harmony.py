"""Chord symbols as tones, against the standard, the textbooks and a reference library."""

from __future__ import annotations

import pytest
from lxml import etree
from music21 import harmony as reference
from music21 import roman

from expander.model.pitch import LETTERS, SEMITONES
from expander.model.score import Degree, Harmony
from expander.voicing.harmony import chord_tones, key_alters, kinds, parse_degree
from tests.schema import schema_file
from tests.voicing.symbols import chord, harmony

NO_CHORD = {"none"}
ROOTS = [(step, alter) for step in range(7) for alter in (-1, 0, 1)]


def name(tone):
    return LETTERS[tone.step] + ("#" * tone.alter if tone.alter > 0 else "b" * -tone.alter)


def names(tones):
    return " ".join(name(t) for t in tones)


def degrees(tones):
    return " ".join(t.degree for t in tones)


def test_every_kind_of_the_standard_is_known_in_its_order():
    schema = etree.parse(str(schema_file()))
    path = "//xs:simpleType[@name='kind-value']//xs:enumeration/@value"
    found = schema.xpath(path, namespaces={"xs": "http://www.w3.org/2001/XMLSchema"})
    assert sorted(kinds()) == sorted(found)
    assert len(found) == 33


# Source: W3C MusicXML 4.0, kind-value descriptions, as semitones above the root.
STANDARD = """
    major 0 4 7 | minor 0 3 7 | augmented 0 4 8 | diminished 0 3 6
    dominant 0 4 7 10 | major-seventh 0 4 7 11 | minor-seventh 0 3 7 10
    diminished-seventh 0 3 6 9 | augmented-seventh 0 4 8 10 | half-diminished 0 3 6 10
    major-minor 0 3 7 11 | major-sixth 0 4 7 9 | minor-sixth 0 3 7 9
    dominant-ninth 0 2 4 7 10 | major-ninth 0 2 4 7 11 | minor-ninth 0 2 3 7 10
    dominant-11th 0 2 4 5 7 10 | major-11th 0 2 4 5 7 11 | minor-11th 0 2 3 5 7 10
    dominant-13th 0 2 4 5 7 9 10 | major-13th 0 2 4 5 7 9 11 | minor-13th 0 2 3 5 7 9 10
    suspended-second 0 2 7 | suspended-fourth 0 5 7 | power 0 7 | pedal 0 | Tristan 0 3 6 10
"""
ROWS = [row.split() for line in STANDARD.strip().splitlines() for row in line.split("|")]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0])
@pytest.mark.parametrize("root", ROOTS, ids=lambda r: LETTERS[r[0]] + ["b", "", "#"][r[1] + 1])
def test_a_kind_has_the_tones_of_the_standard_on_every_root(row, root):
    kind, *semitones = row
    found = chord_tones(Harmony(0, root, kind))
    low = (SEMITONES[root[0]] + root[1]) % 12
    assert sorted((t.pitch_class - low) % 12 for t in found.tones) == [int(s) for s in semitones]
    assert all(abs(t.alter) <= (1 if t.is_tension else 2) for t in found.tones)


# Sources: thejazzpianosite.com, Chord Tensions, table of seventh chords on C; augmented sixths in
# C: ledutu.com and chord-finder.pages.dev, Augmented sixth chords; Neapolitan: lowered second
# triad in first inversion, guitaralternatepicking.wordpress.com 2020-03-04; Tristan: F B D# G#,
# first bars of Wagner's Prelude (memory).
SPELLED = [
    ("Cmaj7", "C E G B"),
    ("C7", "C E G Bb"),
    ("Cm7", "C Eb G Bb"),
    ("CmMaj7", "C Eb G B"),
    ("Cdim7", "C Eb Gb Bbb"),
    ("Cm7b5", "C Eb Gb Bb"),
    ("Caug7", "C E G# Bb"),
    ("CIt", "Ab C F#"),
    ("CFr", "Ab C D F#"),
    ("CGer", "Ab C Eb F#"),
    ("CN", "Db F Ab"),
    ("FTr", "F B D# G#"),
    ("D#m7", "D# F# A# C#"),
    ("Bbm7b5", "Bb Db Fb Ab"),
    ("G7(b9)", "G B D F Ab"),
    ("Eb7(b9)", "Eb G Bb Db Fb"),
    ("F#7(b9)", "F# A# C# E G"),
    ("Db7(b9)", "Db F Ab Cb D"),  # not Ebb
    ("E7(#9)", "E G# B D G"),  # not F##
    ("C#7(#11)", "C# E# G# B G"),  # not F##
]


@pytest.mark.parametrize(("text", "expected"), SPELLED)
def test_a_chord_is_spelled_from_its_root(text, expected):
    assert names(chord(text).tones) == expected


TO_REFERENCE = {
    "dominant": "dominant-seventh",
    "half-diminished": "half-diminished-seventh",
    "major-minor": "minor-major-seventh",
}
# The library's Neapolitan (1 b2 3 b5) is no chord that a textbook knows by that name.
DIFFERENT = {"none", "other", "Neapolitan"}


@pytest.mark.parametrize("kind", [k for k in kinds() if k not in DIFFERENT])
def test_a_kind_agrees_with_the_reference_library(kind):
    text = reference.CHORD_TYPES[TO_REFERENCE.get(kind, kind)][0]
    expected = {parse_degree(d.replace("-", "b")) for d in text.split(",")}
    found = chord_tones(Harmony(0, (0, 0), kind))
    assert {(t.number, t.shift) for t in found.tones} == expected


@pytest.mark.parametrize("root", ["C", "F#", "Eb", "B"])
@pytest.mark.parametrize("kind", ["dominant", "minor-seventh", "half-diminished", "major-ninth"])
def test_spelling_agrees_with_the_reference_library(root, kind):
    symbol = reference.ChordSymbol(root=root.replace("b", "-"), kind=TO_REFERENCE.get(kind, kind))
    expected = {p.name.replace("-", "b") for p in symbol.pitches}
    found = chord_tones(Harmony(0, harmony(root).root, kind))
    assert {name(t) for t in found.tones} == expected


@pytest.mark.parametrize("tonic", ["C", "D", "Eb", "F#"])
@pytest.mark.parametrize(
    ("kind", "figure"),
    [("Italian", "It6"), ("French", "Fr43"), ("German", "Ger65"), ("Neapolitan", "N6")],
)
def test_functional_sixths_agree_with_the_reference_librarys_numerals(tonic, kind, figure):
    expected = roman.RomanNumeral(figure, tonic.replace("b", "-").lower())
    found = chord_tones(Harmony(0, harmony(tonic).root, kind))
    assert {name(t) for t in found.tones} == {p.name.replace("-", "b") for p in expected.pitches}
    assert name(found.lowest) == expected.bass().name.replace("-", "b")


# Source: W3C MusicXML 4.0, degree and degree-alter: additions relative to a dominant chord,
# alterations and subtractions relative to the chord itself.
CHANGES = [
    ("major", [(9, 0, "add")], "1 3 5 9"),
    ("major", [(7, 0, "add")], "1 3 5 b7"),
    ("major", [(7, 1, "add")], "1 3 5 7"),
    ("dominant", [(9, -1, "add"), (9, 1, "add")], "1 3 5 b7 b9 #9"),
    ("dominant", [(5, 1, "alter")], "1 3 #5 b7"),
    ("dominant-ninth", [(9, -1, "alter")], "1 3 5 b7 b9"),
    ("dominant-13th", [(11, 1, "alter")], "1 3 5 b7 9 #11 13"),
    ("major-seventh", [(7, -1, "alter")], "1 3 5 b7"),
    ("dominant", [(3, 0, "subtract"), (4, 0, "add")], "1 4 5 b7"),
    ("dominant-13th", [(11, 0, "subtract")], "1 3 5 b7 9 13"),
    ("major", [(5, 0, "subtract")], "1 3"),
    ("major", [(6, 0, "subtract")], "1 3 5"),
    ("dominant", [(9, -1, "alter")], "1 3 5 b7 b9"),  # altering what is not there adds it
    ("major", [(2, 0, "add")], "1 3 5 9"),  # a second beside a third is a ninth
    ("other", [(3, 0, "add"), (5, -1, "add"), (7, 0, "add")], "1 3 b5 b7"),
    ("major", [(10, -1, "add")], "1 b3 3 5"),  # a tenth is a third
    ("pedal", [], "1"),
    ("an unknown kind", [(3, 0, "add")], "1 3"),
]


@pytest.mark.parametrize(("kind", "changes", "expected"), CHANGES)
def test_degrees_are_added_altered_and_subtracted(kind, changes, expected):
    symbol = Harmony(0, (0, 0), kind, degrees=tuple(Degree(*c) for c in changes))
    assert degrees(chord_tones(symbol).tones) == expected


@pytest.mark.parametrize(
    ("symbol", "lowest"),
    [
        (Harmony(0, (0, 0), "major"), "C"),
        (Harmony(0, (0, 0), "major", bass=(2, 0)), "E"),
        (Harmony(0, (0, 0), "major", bass=(1, 0)), "D"),
        (Harmony(0, (0, 0), "major", bass=(0, 0)), "C"),
        (Harmony(0, (0, 0), "dominant", inversion=1), "E"),
        (Harmony(0, (0, 0), "dominant", inversion=3), "Bb"),
        (Harmony(0, (0, 0), "dominant", inversion=2, bass=(2, 0)), "E"),  # the bass says more
        (Harmony(0, (0, 0), "German"), "Ab"),
        (Harmony(0, (0, 0), "Neapolitan"), "F"),
    ],
)
def test_the_lowest_tone_is_the_bass_the_inversion_or_the_root(symbol, lowest):
    assert name(chord_tones(symbol).lowest) == lowest


@pytest.mark.parametrize(
    "symbol",
    [
        Harmony(0, (0, 0), "none"),
        Harmony(0, None, "none", text="N.C."),
        Harmony(0, None, "major"),
        Harmony(0, (0, 0), "pedal", degrees=(Degree(1, 0, "subtract"),)),
    ],
)
def test_a_symbol_without_root_or_tones_is_no_chord(symbol):
    assert chord_tones(symbol) is None


@pytest.mark.parametrize(
    ("text", "slots"),
    [
        ("Dm7", "root third fifth seventh"),
        ("G13", "root third fifth seventh root fifth"),
        ("C69", "root third fifth seventh root"),
        ("Gsus4", "root third fifth"),
        ("G11", "root fifth seventh root third"),  # the eleventh stands for the third
    ],
)
def test_every_tone_fills_a_place(text, slots):
    assert " ".join(t.slot for t in chord(text).sounding) == slots


# Tensions by quality: prasannanashwinschoolofmusic.com, Tensions Reference Table.
# In the key: what of these the key signature holds (Berklee practice, memory).
@pytest.mark.parametrize(
    ("text", "fifths", "expected"),
    [
        ("Cmaj7", None, "9 #11 13"),
        ("Cm7", None, "9 11"),
        ("C7", None, "9 b9 #9 #11 13 b13"),
        ("C7sus4", None, "9 13"),
        ("Cm7b5", None, "9 11 b13"),
        ("C13", None, "#11"),
        ("C6", None, "9 #11"),
        ("Cmaj7", 0, "9 13"),  # tonic: no #11
        ("Fmaj7", 0, "9 #11 13"),  # subdominant
        ("Em7", 0, "11"),  # no 9 on the third degree
        ("Bm7b5", 0, "11 b13"),
        ("G7", 0, "9 13"),
        ("A7", 0, "9 #9 b13"),
        ("E7", 0, "b9 #9 b13"),
        ("Ebm7", 0, "9 11"),  # foreign root: by quality
    ],
)
def test_available_tensions_follow_quality_and_key(text, fifths, expected):
    assert degrees(chord(text, fifths).available) == expected


@pytest.mark.parametrize(
    ("text", "expected"), [("Cmaj7", "b9 11 b13"), ("C7", "11"), ("Dm7", "b9 b13")]
)
def test_avoid_notes_lie_a_minor_ninth_above_a_chord_tone(text, expected):
    # thejazzpianosite.com, Available Tensions; the flat ninth of a dominant is wanted there
    found = chord(text)
    assert degrees(found.avoid) == expected
    classes = {t.pitch_class for t in found.tones}
    assert all((t.pitch_class - 1) % 12 in classes for t in found.avoid)


def test_an_altered_degree_takes_the_place_of_the_plain_one():
    assert degrees(chord("C13(#11)").sounding) == "1 3 5 b7 9 #11 13"
    assert degrees(chord("C9(b9)").sounding) == "1 3 5 b7 b9"


@pytest.mark.parametrize(("fifths", "count"), [(0, 0), (3, 3), (-4, -4), (7, 7), (-7, -7)])
def test_a_key_signature_has_as_many_accidentals_as_fifths(fifths, count):
    assert sum(key_alters(fifths)) == count


def test_a_wrong_degree_name_is_refused():
    with pytest.raises(ValueError, match="'x9' is not a degree"):
        parse_degree("x9")
