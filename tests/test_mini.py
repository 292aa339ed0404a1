"""The mini-notation reads what it prints and prints what it reads."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from expander.model.pitch import Drum, Sounding, Transposition, Written
from expander.model.score import Clef, Time
from tests import mini
from tests.strategies import documents, sketches

ROWS = [
    "Flute: @treble k-1 tcommon C4:q D4:q E4:h | R ||",
    "Flute: k3:minor C4:w",
    "Flute: 3( C4:e D4:e E4:e ) 5:3( C4:s D4:s E4:s F4:s G4:s ) C4:h",
    "Flute: 3?( C4:e D4:e E4:e ?) C4:h.",
    "Flute: ^D5:e ^/E5:s C5:w(;fermata | D5:w);.;>",
    "Flute: C4~:w | ^D4:e C4~:q C4:q r:h",
    "Flute: C4~?:w | ?~D4:w",
    "Flute: C4*:q C#4*:q Cb4**:q C##4*sharp:q",
    "Flute: !p C4:q !< D4:q E4:h !. !mf&5/2",
    'Flute: {Dm7} "so: \\"dolce\\" | x"&above [A] <q.=96> C4:w | {G7(b9,no5)/B} <pedal:start> R',
    "Flute: C4:q 'Hel- '2:word D4:q '-lo_ E4:h '-x-",
    "Flute: #7 C4:w | #X1! D4:w | #8 C4:w",
    "Flute: C5:h D5:h // C4+E4:w | R | _ // C4:w",
    "Flute: C4:q _:1 D4:q _:-1 E4:q r:q",
    "Flute: |: volta1+ C4:w | volta1- D4:w :| volta2+ R |.",
    "Clarinet (-1 -2 0): k2 C4:w | @bass k3 tr(-2,-3,0) C4:w",
    "Piano: C4:w\n+: @bass C3:q C4@1:q D3:h",
    "Drum: x:q xF4:q xF4=P1-I2:q x?:q",
    "Violin: E4+A4%diamond\\harmonic[artificial,touching-pitch]:h E5\\harmonic[natural]:h",
    "Violin: C4:q;tremolo3 C4\\glissando(:q D4\\glissando):q ,E4:q",
    "Flute: t3/4 R:1 | C4:h. | R",
    "Flute: t3/4 C4:q | t2+3/8 C4:5/2 | t6/8 R",
]


@pytest.mark.parametrize("row", ROWS)
def test_a_canonical_row_is_printed_as_it_was_read(row: str) -> None:
    assert mini.to_text(mini.document(row)) == row


@pytest.mark.parametrize("row", ROWS)
def test_reading_the_print_gives_the_same_score(row: str) -> None:
    once = mini.document(row)
    assert mini.document(mini.to_text(once)) == once


@settings(max_examples=40)
@given(sketches())
def test_any_sketch_survives_print_and_reading(score) -> None:
    again = mini.sketch(mini.to_text(score))
    assert mini.to_text(again) == mini.to_text(score)
    assert on_grid(again, score.grid) == score


@settings(max_examples=20)
@given(documents())
def test_any_document_survives_print_and_reading(score) -> None:
    assert on_grid(mini.document(mini.to_text(score)), score.grid) == score


def on_grid(score, grid):
    """The same music on a finer grid."""
    by = grid // score.grid
    bars = tuple(
        replace(b, start=b.start * by, length=b.length * by, nominal=b.nominal * by)
        for b in score.bars
    )
    parts = tuple(
        replace(part, bars=tuple(_finer(bar, by) for bar in part.bars)) for part in score.parts
    )
    return replace(score, grid=grid, bars=bars, parts=parts)


def _finer(bar, by: int):
    layers = tuple(
        tuple(replace(e, at=e.at * by, duration=e.duration * by) for e in layer)
        for layer in bar.layers
    )
    moved = {
        name: tuple(replace(x, at=x.at * by) for x in getattr(bar, name))
        for name in ("changes", "directions", "harmonies")
    }
    return replace(bar, layers=layers, **moved)


def test_pitch_value_and_place_are_read() -> None:
    score = mini.sketch("Tune: C4:q Bb3:e. r:s F#5:h")
    events = score.parts[0].bars[0].layers[0]
    assert [str(e.notes[0].pitch) if e.notes else "r" for e in events] == ["C4", "Bb3", "r", "F#5"]
    assert [e.duration / score.grid for e in events] == [1, 0.75, 0.25, 2]
    assert [e.at / score.grid for e in events] == [0, 1, 1.75, 2]
    assert type(events[0].notes[0].pitch) is Sounding


def test_the_first_short_bar_is_a_pickup_and_the_next_is_bar_1() -> None:
    score = mini.document("Tune: t3/4 C4:q | D4:h. | R\nBass: R | R | R")
    assert [(b.number, b.implicit, b.length) for b in score.bars] == [
        ("0", True, score.grid),
        ("1", False, 3 * score.grid),
        ("2", False, 3 * score.grid),
    ]
    assert score.parts[1].bars[0].layers[0][0].duration == score.grid


def test_the_line_for_all_gives_every_stave_its_attributes_and_the_top_one_the_marks() -> None:
    score = mini.document("*: k2 t3/4 [A] _ ||\nA: C4:h.\nB: k-1 C3:h.")
    assert mini.to_text(score) == "A: k2 t3/4 [A] C4:h. ||\nB: k-1 t3/4 C3:h. ||"


def test_transposition_clef_time_and_drums_become_their_values() -> None:
    score = mini.document("Drum (0 0 1): @perc t6/8 xF4:h.")
    bar = score.parts[0].bars[0]
    assert [c.what for c in bar.changes] == [
        Clef("percussion"),
        Time((("6", "8"),)),
        Transposition(0, 0, 1),
    ]
    assert bar.layers[0][0].notes[0].pitch == Drum(3, 4)


def test_a_tied_chain_has_one_number() -> None:
    score = mini.sketch("Tune: C4+E4~:h E4+G4:h | E4:w")
    origins = [[n.origin for n in e.notes] for b in score.parts[0].bars for e in b.layers[0]]
    assert origins == [[0, 1], [1, 2], [3]]


def test_accidentals_placement_and_sound_are_printed_on_request_only() -> None:
    row = 'A: "to Piccolo"&above&sound=instrument-change C#4*:w'
    assert mini.to_text(mini.document(row), show=()) == 'A: "to Piccolo" C#4:w'
    assert mini.to_text(mini.document(row)) == row


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("A: H4:q", "H4"),
        ("A: C4", "needs a value"),
        ("A: C4:q | | D4:q", "empty bar"),
        ("A: 3( C4:e D4:e", "not closed"),
        ("A: C4:w\nB: C4:w | D4:w", "different numbers"),
        ("A: {Xyz} C4:w", "Xyz"),
        ("A: C4:q;wiggle", "wiggle"),
        ("A: C4:q;harmonic", "one head"),
    ],
)
def test_a_mistake_in_a_row_is_named(text: str, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        mini.document(text)


def test_a_difference_names_stave_and_bar() -> None:
    found = mini.difference("A: C4:w | D4:w", "A: C4:w | E4:w")
    assert "-A, bar 2: | D4:w" in found
    assert "+A, bar 2: | E4:w" in found
    assert mini.difference("A: C4:w", "A: C4:w") == ""


def test_written_pitches_are_of_their_own_type() -> None:
    assert type(mini.document("A: C4:w").parts[0].bars[0].layers[0][0].notes[0].pitch) is Written
