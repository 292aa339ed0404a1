"""One bar at a time: rests, beams, tuplets, accidentals, clefs, spanners, shared staves."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.catalogue.loader import instrument
from expander.model.metre import shapes
from expander.model.pitch import Written
from expander.model.score import Bar, Time
from expander.notate import clefs
from expander.notate.accidentals import key_alters, with_accidentals
from expander.notate.beams import beamed, bracketed
from expander.notate.rests import filled
from expander.notate.sharing import APART, CHORD, TOGETHER, Sharer, section_label, wind_label
from expander.notate.spanners import Mender
from tests import mini

GRID = 12


def bar_of(metre: str, length: int = 0) -> Bar:
    beats, unit = metre.split("/")
    nominal = int(beats) * 4 * GRID // int(unit)
    return Bar("1", 0, length or nominal, nominal, Time(((beats, unit),)), bool(length))


def events(text: str, bar: int = 0, part: int = 0, layer: int = 0):
    return mini.sketch(text).parts[part].bars[bar].layers[layer]


# Rests show the beat. Common practice, no source; E. Gould, Behind Bars (from memory).
@pytest.mark.parametrize(
    ("metre", "start", "end", "expected"),
    [
        ("4/4", 0, 24, ["half"]),
        ("4/4", 12, 36, ["quarter", "quarter"]),
        ("4/4", 24, 48, ["half"]),
        ("4/4", 12, 48, ["quarter", "half"]),
        ("4/4", 6, 48, ["eighth", "quarter", "half"]),
        ("3/4", 0, 24, ["quarter", "quarter"]),
        ("3/4", 12, 36, ["quarter", "quarter"]),
        ("6/8", 0, 18, ["quarter."]),
        ("6/8", 6, 36, ["quarter", "quarter."]),
        ("2/4", 3, 24, ["eighth.", "quarter"]),
        ("4/4", 8, 12, ["eighth 3:2"]),
        ("4/4", 0, 8, ["quarter 3:2"]),
    ],
)
def test_rests_show_the_beat(metre, start, end, expected) -> None:
    bar = bar_of(metre)
    found = shapes(start, end - start, bar.time, bar.nominal, GRID)
    said = [
        v.type + "." * v.dots + (f" {v.actual}:{v.normal}" if v.actual > 1 else "")
        for _, v in found
    ]
    assert said == expected
    assert sum(ticks for ticks, _ in found) == end - start


def test_lengths_off_every_grid_still_add_up() -> None:
    time = Time((("4", "4"),))
    for ticks in range(1, 480):
        assert sum(t for t, _ in shapes(7, ticks, time, 480, 120)) == ticks


def test_a_silent_voice_is_one_whole_bar_rest() -> None:
    (rest,) = filled((), bar_of("4/4"), GRID)
    assert rest.whole_bar
    assert rest.duration == 48


def test_a_voice_that_is_full_stays_the_same_object() -> None:
    sketch = mini.sketch("A: C4:q D4 E4 F4")
    voice = sketch.parts[0].bars[0].layers[0]
    assert filled(voice, sketch.bars[0], sketch.grid) is voice


# Beams by the metre where the rhythm is new (common practice, no source).
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A: C4:e D4 E4 F4 G4:h", "begin end begin end -"),
        ("A: C4:q D4:e E4 F4:h", "- begin end -"),
        ("A: C4:e r:e D4:e E4 F4:h", "- - begin end -"),
        ("A: t6/8 C4:e D4 E4 F4 G4 A4", "begin continue end begin continue end"),
        ("A: C4:e. D4:s E4:q F4:h", "begin end - -"),
        ("A: C4:e D4:q E4:e F4:h", "- - - -"),
    ],
)
def test_beams_follow_the_metre(text, expected) -> None:
    sketch = mini.sketch(text)
    done = beamed(sketch.parts[0].bars[0].layers[0], sketch.bars[0], sketch.grid)
    states = [e.beams[0].text if e.beams else "-" for e in done]
    assert " ".join(states) == expected


def test_a_triplet_whose_bracket_was_cut_gets_a_new_one() -> None:
    sketch = mini.sketch("A: 3?( C4:e D4 E4 ?) F4:q G4:h")
    done = bracketed(sketch.parts[0].bars[0].layers[0], sketch.grid)
    kinds = [[m.get("type") for m in e.marks if m.name == "tuplet"] for e in done]
    assert kinds == [["start"], [], ["stop"], [], []]


# Order of sharps and flats: any theory primer, e.g. B. Blood, Music Theory Online (Dolmetsch).
@pytest.mark.parametrize(
    ("fifths", "altered"),
    [(0, ""), (1, "F"), (3, "FCG"), (7, "FCGDAEB"), (-1, "B"), (-4, "BEAD"), (-7, "BEADGCF")],
)
def test_key_signatures_alter_the_right_letters(fifths, altered) -> None:
    alters = key_alters(fifths)
    sign = 1 if fifths > 0 else -1
    assert {letter for letter, a in zip("CDEFGAB", alters, strict=True) if a} == set(altered)
    assert {a for a in alters if a} <= {sign}


# None missing, none superfluous: MOLA, Guidelines for Music Preparation (accidentals by the bar).
@pytest.mark.parametrize(
    ("text", "fifths", "shown"),
    [
        ("A: F#4:q F#4 F4 F4", 0, ["sharp", "", "natural", ""]),
        ("A: F#4:q F4 F#5 F4", 1, ["", "natural", "", ""]),
        ("A: Bb4:q B4 Bb4 Bb5", -1, ["", "natural", "flat", ""]),
        ("A: F#4~:h F#4:q F#4", 0, ["sharp", "", ""]),
        ("A: C#4+E4:h C4+E4", 0, ["sharp", "", "natural", ""]),
        ("A: F##4:h F#4", 1, ["double-sharp", "sharp"]),
    ],
)
def test_accidentals_are_those_a_reader_needs(text, fifths, shown) -> None:
    layers = mini.document(text).parts[0].bars[0].layers
    done = with_accidentals(layers, fifths)
    names = [n.accidental.text if n.accidental else "" for e in done[0] for n in e.notes]
    assert names == shown


def test_two_voices_share_the_accidentals_of_their_staff() -> None:
    layers = mini.document("A: F#4:h F#4 // r:h F4").parts[0].bars[0].layers
    done = with_accidentals(layers, 0)
    shown = [[n.accidental.text if n.accidental else "" for e in v for n in e.notes] for v in done]
    assert shown == [["sharp", ""], ["natural"]]  # the upper voice is read first


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A: A4:h Ab4 // F4:h ^Ab4 G4", [["", "flat"], ["", "flat", ""]]),
        ("A: ^Ab4 Ab4:w // ^Ab4 Ab4:w", [["flat", ""], ["", ""]]),
        ("A: ^Ab4 Ab4:h Ab4", [["flat", "", ""]]),
    ],
)
def test_the_sign_of_a_grace_note_does_not_do_for_another_voice(text, expected) -> None:
    """Common practice, no source: the small sign stands beside both, and is read for one."""
    layers = mini.document(text).parts[0].bars[0].layers
    done = with_accidentals(layers, 0)
    shown = [[n.accidental.text if n.accidental else "" for e in v for n in e.notes] for v in done]
    assert shown == expected


def test_accidentals_are_for_the_stave_on_which_heads_stand() -> None:
    """Common practice, no source: what stands on one stave is not read for the other."""
    text = "A: F#4:q F#4@2 F4@2 F4 // F#4@2:w\n+: F4:q F#4 r:h"
    layers = mini.document(text).parts[0].bars[0].layers
    done = with_accidentals(layers, 0, (), (1, 1, 2))
    shown = [[n.accidental.text if n.accidental else "" for e in v for n in e.notes] for v in done]
    assert shown == [["sharp", "sharp", "natural", "natural"], ["sharp"], ["natural", ""]]


def test_a_courtesy_of_the_sketch_stays() -> None:
    layers = mini.document("A: C4:h B4**").parts[0].bars[0].layers
    (done,) = with_accidentals(layers, 0)
    assert [bool(n.accidental) for e in done for n in e.notes] == [False, True]


# Habits: B. Newton, bandestration.com (bassoon); M. Zager, p. 117 (cello, viola), p. 125
# (trombone). Not for fewer than about three notes: common practice, no source.
@pytest.mark.parametrize(
    ("name", "bars", "expected"),
    [
        ("bassoon", ["C3", "A4 B4 A4 B4", "B4 A4 B4 G4", "C3"], ["F", "C", "C", "F"]),
        ("bassoon", ["C3", "B4", "C3"], ["F", "F", "F"]),
        ("cello", ["C2", "E5 F5 G5 A5", "G2"], ["F", "G", "F"]),
        ("viola", ["C4", "C6 D6 E6 D6", "C4"], ["C", "G", "C"]),
        ("violin", ["G3", "B6"], ["G", "G"]),
        ("tenor-trombone", ["F3", *["Bb4 A4 Bb4 A4 Bb4"] * 4, "F2"], ["F", *"CCCC", "F"]),
    ],
)
def test_clefs_change_for_passages_and_not_for_single_notes(name, bars, expected) -> None:
    heights = [[Written.named(n).diatonic for n in bar.split()] for bar in bars]
    chosen = clefs.choose(heights, instrument(name).clefs[0])
    assert [clef.sign for clef in chosen] == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A: C4:q( D4 E4 F4)", "start . . stop"),
        ("A: C4:q( D4 E4 F4", "start . . stop"),  # closed at the last note
        ("A: C4:q D4 E4 F4)", ". . . ."),  # an end from nowhere goes
        ("A: C4:q D4 E4 F4(", ". . . ."),  # a slur with one note is none
    ],
)
def test_no_slur_stays_open(text, expected) -> None:
    sketch = mini.sketch(text)
    line = Mender([0]).mended({0: sketch.parts[0].bars[0].layers[0]}, lambda _: "a")
    kinds = [next((m.get("type") for m in e.marks if m.name == "slur"), ".") for e in line[0]]
    assert " ".join(kinds) == expected


def test_an_end_that_is_there_twice_is_kept_once() -> None:
    """As one of the example scores has it: a slur ends twice on one note."""
    voice = events("A: C4:q( D4 E4) F4")
    doubled = replace(voice[2], marks=voice[2].marks * 2)
    line = Mender([0]).mended({0: (*voice[:2], doubled, voice[3])}, lambda _: "a")[0]
    assert line == voice


def test_ties_hold_only_where_the_tied_pitch_follows() -> None:
    sketch = mini.sketch("A: C4~?:q D4 E4~ E4")
    line = Mender([0]).mended({0: sketch.parts[0].bars[0].layers[0]}, lambda _: "a")
    assert [e.notes[0].tie_start for e in line[0]] == [False, False, True, False]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A: C4:q( D4 E4 F4", "start,stop . . ."),
        ("A: C4:q( D4 E4( F4", "start,stop . start,stop ."),
        ("A: C4~:q( C4 E4 F4", "start . . stop"),
        ("A: C4:q( D4 E4) F4", "start . stop ."),
    ],
    ids=["the only one", "two", "tied on", "with its end"],
)
def test_a_trill_s_wave_without_an_end_ends_with_its_note(text, expected) -> None:
    # W3C MusicXML 4.0, <wavy-line>: both ends may stand on one note.
    voice = tuple(
        replace(e, marks=tuple(replace(m, group="ornaments", name="wavy-line") for m in e.marks))
        for e in events(text)
    )
    line = Mender([0]).mended({0: voice}, lambda _: "a")[0]
    assert " ".join(",".join(m.get("type") for m in e.marks) or "." for e in line) == expected


def test_a_calm_bar_stays_the_same_object() -> None:
    voice = events("A: C4:q D4 E4 F4")
    assert Mender([0]).mended({0: voice}, lambda _: "a")[0] is voice


# Chris Kennedy, score guidelines; musicstudent101.com, episode 155 (sharing marks and stems).
@pytest.mark.parametrize(
    ("first", "second", "layout", "label"),
    [
        ("C5:h D5", "C5:h D5", TOGETHER, "a 2"),
        ("C5:h D5", "A4:h B4", CHORD, ""),
        ("C5:h D5", "A4:q B4 A4:h", APART, ""),
        ("C5:h D5", "E5:h B4", APART, ""),  # crossing
        ("C5:h D5", "R", TOGETHER, "1."),
        ("R", "C5:h D5", TOGETHER, "2."),
    ],
)
def test_two_players_share_a_stave(first, second, layout, label) -> None:
    sketch = mini.sketch(f"A: {first}\nB: {second}")
    lanes = [
        {0: part.bars[0].layers[0]} if any(e.notes for e in part.bars[0].layers[0]) else {}
        for part in sketch.parts
    ]
    shared = Sharer().share(lanes)[0]
    assert shared.layout == layout
    assert wind_label(shared, ["1", "2"]) == label


def test_a_section_says_when_it_divides() -> None:
    sketch = mini.sketch("A: C5:h D5\nB: A4:h B4")
    lanes = [{0: part.bars[0].layers[0]} for part in sketch.parts]
    sharer = Sharer()
    assert section_label(sharer.share(lanes)[0]) == "div."
    assert section_label(sharer.share(lanes[:1])[0]) == "unis."


def test_bars_joined_by_a_tie_have_one_layout() -> None:
    sketch = mini.sketch("A: C5:h D5~ | D5:h E5\nB: C5:h D5~ | D5:q C5 B4:h")
    lanes = [dict(enumerate(bar.layers[0] for bar in part.bars)) for part in sketch.parts]
    shared = Sharer().share(lanes)
    assert (shared[0].layout, shared[1].layout) == (APART, APART)
