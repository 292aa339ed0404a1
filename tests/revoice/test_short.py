"""The short score: few staves, nothing lost, music of the original and no other."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from msgspec.structs import replace

from expander.errors import BadUsage
from expander.model.pitch import Drum
from expander.model.walk import notes_of
from expander.musicxml import read_bytes, to_bytes
from expander.revoice.commands import reduce_document
from expander.revoice.short import reduce_score
from expander.sounding import to_sounding
from tests import mini
from tests.strategies import Traits, documents

MANY = Traits(staves=8, layers=2, bars=3)


def heard(score):
    """What begins when, and how high (0 for drums), whoever plays it."""
    sketch = to_sounding(score)
    return {
        (Fraction(bar.start + e.at, sketch.grid), height(n.pitch))
        for part in sketch.parts
        for bar, content in zip(sketch.bars, part.bars, strict=True)
        for layer in content.layers
        for e in layer
        if not e.cue
        for n in e.notes
        if not n.tie_stop
    }


def height(pitch):
    return 0 if isinstance(pitch, Drum) else pitch.semitone


def sounds(score):
    """True where somebody plays a note that is no cue."""
    return any(n.origin >= 0 for n in notes_of(to_sounding(score)))


def classes(found):
    return {(at, high % 12) for at, high in found}


@settings(max_examples=12)
@given(documents(MANY))
def test_every_note_stands_in_it_or_is_doubled_by_one_that_does(document) -> None:
    assume(sounds(document))
    for staves in (0, 2, 3):
        ledger = reduce_score(document, staves).ledger
        known = {n.origin for n in notes_of(to_sounding(document))} - {-1}
        assert ledger.notes == len(known)
        assert ledger.unplaced == ()
        assert ledger.placed + ledger.replaced == ledger.notes


@settings(max_examples=10)
@given(documents(MANY))
def test_it_has_two_to_five_staves_that_read_back(document) -> None:
    assume(sounds(document))
    reduced = reduce_score(document)
    count = sum(part.staves for part in reduced.score.parts)
    assert count <= 5
    again = read_bytes(to_bytes(reduced.score), "short.musicxml")
    assert [bar.number for bar in again.bars] == [bar.number for bar in document.bars]
    assert {n.origin for n in notes_of(to_sounding(again))} - {-1} or not heard(document)


@settings(max_examples=10)
@given(documents(Traits(staves=4, layers=2, bars=3, ties=False)))
def test_a_score_of_few_staves_keeps_every_note_where_it_is(document) -> None:
    assume(sounds(document))
    reduced = reduce_score(document)
    if reduced.owners:
        assert heard(reduced.score) == heard(document)


@settings(max_examples=10)
@given(documents(MANY))
def test_the_same_score_gives_the_same_bytes(document) -> None:
    assume(sounds(document))
    first, second = (to_bytes(reduce_score(document).score) for _ in range(2))
    assert first == second


SIX = """
Flute: !p C6:q D6 E6 F6 | G6:w
Oboe: !p C5:q D5 E5 F5 | G5:w
Clarinet: tr(-1,-2,0) !p F#4:w | E4:w
Horn: tr(-4,-7,0) !p B4:w | A4:w
Bassoon: @bass !p C3:h G2 | C3:w
Violin: !p C5:q D5 E5 F5 | G5:w
"""


def test_doubled_lines_are_written_once_and_inner_parts_as_chords() -> None:
    reduced = reduce_score(mini.document(SIX))
    rows = {part.name: part for part in reduced.score.parts}
    assert tuple(rows) == ("Tune", "Inner parts", "Bass")
    tune = [n.pitch for n in notes_of(mini_part(reduced.score, "Tune"))]
    assert [str(p) for p in tune] == ["C5", "D5", "E5", "F5", "G5"]
    chord = rows["Inner parts"].bars[0].layers[0][0]
    assert [str(n.pitch) for n in chord.notes] == ["E4"]  # clarinet and horn in unison
    assert reduced.ledger.replaced == 12


def test_a_score_of_silence_is_told_of() -> None:
    with pytest.raises(BadUsage, match="no notes"):
        reduce_document(mini.document("Flute: R | R\nOboe: R | R"))


def mini_part(score, name):
    return replace(score, parts=tuple(p for p in score.parts if p.name == name))


def test_marks_and_words_stay() -> None:
    song = "Voice: !p \"dolce\" C5:q( 'Now D5 'we E5;. 'go F5) | G5:w;fermata 'home"
    piano = "Piano: C4+E4+G4:w | C4+E4+G4:w\n+: @bass C3:w | C2:w"
    text = mini.to_text(reduce_score(mini.document(f"{song}\n{piano}")).score, show=())
    for sign in ("!p", '"dolce"', "C5:q(", "E5:q;.", "F5:q)", ";fermata", "'Now", "'go", "'home"):
        assert sign in text


def test_labels_under_an_instrument_are_no_words() -> None:
    text = mini.to_text(reduce_score(mini.document(SIX.replace("D6", "D6 'x"))).score)
    assert "'x" not in text


@pytest.mark.parametrize("staves", [1, 6, -2])
def test_other_numbers_of_staves_are_refused(staves) -> None:
    with pytest.raises(BadUsage, match=str(staves)):
        reduce_document(mini.document(SIX), staves)


@pytest.mark.parametrize("staves", [2, 3, 4, 5])
def test_it_has_at_most_as_many_staves_as_asked_for(staves) -> None:
    reduced = reduce_document(mini.document(SIX), staves)
    assert 2 <= len(reduced.score.parts) <= staves
    assert classes(heard(reduced.score)) == classes(heard(mini.document(SIX)))


def test_chord_symbols_stand_over_the_top_stave_alone() -> None:
    flute, *others = SIX.strip().splitlines()
    text = "\n".join([flute.replace("!p C6:q", "{C} !p C6:q"), *others])
    parts = reduce_score(mini.document(text)).score.parts
    assert [any(bar.harmonies for bar in part.bars) for part in parts] == [True, False, False]
