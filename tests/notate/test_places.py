"""Unpitched places in the clef of the part, and back for readers that know the treble only."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.model.pitch import Drum
from expander.model.score import Bracket, Change, Clef
from expander.musicxml import to_bytes
from expander.notate.engraver import for_verovio
from expander.notate.places import as_treble, in_clefs
from tests.mini import document

# W3C MusicXML 4.0, display-step-octave: "Positioning follows the current clef. If percussion clef
# is used, the display-step and display-octave elements are interpreted as if in treble clef". The
# middle line and the space above the staff, counted by hand from each clef's own line.
CLEFS = [
    pytest.param(Clef("G", 2), "B4", "G5", id="treble"),
    pytest.param(Clef("G", 2, -1), "B3", "G4", id="treble 8vb"),
    pytest.param(Clef("F", 4), "D3", "B3", id="bass"),
    pytest.param(Clef("C", 3), "C4", "A4", id="alto"),
    pytest.param(Clef("C", 4), "A3", "F4", id="tenor"),
    pytest.param(Clef("percussion"), "B4", "G5", id="percussion"),
]
MUSIC = "Time: @treble x%slash:h x%slash:h // ,xG5:h r:h | x%slash:w"


def places(bars):
    return {str(n.pitch) for bar in bars for layer in bar for e in layer for n in e.notes}


def bars_of(text):
    return [bar.layers for bar in document(text).parts[0].bars]


@pytest.mark.parametrize(("clef", "middle", "above"), CLEFS)
def test_a_place_follows_the_clef(clef, middle, above):
    (moved,) = in_clefs([bars_of(MUSIC)], {0: [Change(0, clef, 1)]})
    assert places(moved) == {f"unpitched {middle}", f"unpitched {above}"}


def test_a_clef_counts_from_its_bar_on_and_for_its_staff():
    music = bars_of("Time: @treble x:w | x:w")
    clefs = {1: [Change(0, Clef("F", 4), 2)]}
    upper, lower = in_clefs([music, music], clefs)
    assert places(upper) == {"unpitched B4"}
    assert [places([bar]) for bar in lower] == [{"unpitched B4"}, {"unpitched D3"}]


def test_notes_with_pitch_and_all_else_stay():
    music = bars_of("Horn: @treble C4:q( D4) x%slash:h")
    (moved,) = in_clefs([music], {0: [Change(0, Clef("F", 4), 1)]})
    kept, new = music[0][0], moved[0][0]
    assert new[:2] == kept[:2]
    assert [n.head for n in new[2].notes] == [n.head for n in kept[2].notes]
    assert isinstance(new[2].notes[0].pitch, Drum)


@pytest.mark.parametrize("clef", ["treble", "bass", "alto", "tenor", "perc"])
def test_a_copy_for_treble_readers_has_the_treble_places_again(clef):
    (moved,) = in_clefs([bars_of(MUSIC)], {0: [Change(0, clef_named(clef), 1)]})
    written = document(MUSIC.replace("@treble", f"@{clef}"))
    part = written.parts[0]
    bars = [replaced(bar, layers) for bar, layers in zip(part.bars, moved, strict=True)]
    back = as_treble(replaced_part(written, bars))
    assert places([bar.layers for bar in back.parts[0].bars]) == {"unpitched B4", "unpitched G5"}


def clef_named(name):
    (change,) = [
        c for c in document(f"X: @{name} | R").parts[0].bars[0].changes if isinstance(c.what, Clef)
    ]
    return change.what


def replaced(bar, layers):
    return replace(bar, layers=layers)


def replaced_part(score, bars):
    return replace(score, parts=(replace(score.parts[0], bars=tuple(bars)),))


def test_a_score_without_unpitched_notes_is_left_as_it_is():
    score = document("Cello: @bass | C3:w")
    assert as_treble(score).parts[0] is score.parts[0]


def test_two_voices_are_drawn_one_above_the_other_under_a_mark_of_the_second():
    """Held against Verovio itself: the same heads at the same places as without the mark."""
    music = "Time: @treble {}C5:q D5 C5:h // x%slash:q x%slash:q x%slash:q x%slash:q"
    marked = document(music.format("!p "))
    (part,) = marked.parts
    bar = part.bars[0]
    second = tuple(replace(d, voice="2") for d in bar.directions)
    voiced = replace(part, bars=(replace(bar, directions=second), *part.bars[1:]))
    score = replace(marked, parts=(voiced,))
    meant = heads(document(music.format("")))
    assert heads(for_verovio(score)) == meant
    assert heads(score) != meant  # what the copy is for


def test_a_keyboard_in_a_bracket_has_its_brace() -> None:
    """Common practice, no source; and MusicXML 4.0, part-symbol: brace is the default value."""
    score = document("Guitar: C5:w\nPiano: C5:w\n+: C3:w\nBass: C3:w")
    inside = replace(score, brackets=(Bracket(0, 2),))
    assert for_verovio(score).brackets == ()
    assert for_verovio(inside).brackets == (Bracket(0, 2), Bracket(1, 1, "brace"))
    assert grouped(for_verovio(inside)) == ["bracket", "brace"]


def grouped(score):
    """The signs before the staves of a score, as Verovio has them, from the outermost."""
    import re

    import verovio

    toolkit = verovio.toolkit()
    toolkit.loadData(to_bytes(score).decode())
    return re.findall(r'<grpSym [^>]*symbol="(\w+)"', toolkit.getMEI())


def heads(score):
    """How far from the left each head of a score is drawn, as Verovio places it."""
    import re

    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    toolkit.loadData(to_bytes(score).decode())
    found = re.findall(
        r'class="notehead"[^>]*>\s*<use[^>]*translate\(([\d.]+)', toolkit.renderToSVG(1)
    )
    return [round(float(place)) for place in found]
