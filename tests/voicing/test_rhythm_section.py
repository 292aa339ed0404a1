"""Slashes and kicks."""

from __future__ import annotations

import pytest

from expander.model.pitch import Drum
from expander.model.plan import Strand
from expander.voicing.rhythm_section import slashes
from tests.mini import sketch


def drawn(text, kicks=False):
    music = sketch(text)
    tune = Strand("tune", {i: b.layers for i, b in enumerate(music.parts[0].bars)})
    return slashes("time", music, range(len(music.bars)), tune if kicks else None), music


# One slash for each beat, the dotted quarter being the beat of 6/8: MusicXML 4.0, slash element
# ("on every beat"); compound beats common practice.
@pytest.mark.parametrize(
    ("time", "count", "value"),
    [
        ("4/4", 4, ("quarter", 0)),
        ("3/4", 3, ("quarter", 0)),
        ("2/2", 2, ("half", 0)),
        ("6/8", 2, ("quarter", 1)),
        ("12/8", 4, ("quarter", 1)),
        ("5/8", 5, ("eighth", 0)),
    ],
)
def test_a_bar_has_a_slash_for_every_beat(time, count, value):
    found, music = drawn(f"Tune: @treble t{time} | R | R\nFine: @treble | C4:s _ | R")
    last = len(music.bars) - 1
    (layer,) = found.strand.bars[last]
    assert len(layer) == count
    assert {(e.value.type, e.value.dots) for e in layer} == {value}
    assert layer[-1].end == music.bars[last].length


def test_a_slash_is_an_unpitched_stemless_head_on_the_middle_line():
    found, _ = drawn("Tune: @treble | R")
    event = found.strand.bars[max(found.strand.bars)][0][0]
    (note,) = event.notes
    assert note.pitch == Drum(6, 4)
    assert (note.head.name, note.head.text) == ("notehead", "slash")
    assert event.stem == "none"
    assert note.origin == -1


def test_kicks_stand_above_as_cue_notes_in_the_rhythm_given():
    found, _ = drawn("Tune: @treble | C4:q. 'la E4~:e E4:h;>", kicks=True)
    above, _ = found.strand.bars[max(found.strand.bars)]
    assert all(e.cue and not e.lyrics for e in above)
    assert [e.at for e in above] == [0, 3, 4]
    assert {n.pitch for e in above for n in e.notes} == {Drum(4, 5)}
    assert [n.tie_start for e in above for n in e.notes] == [False, True, False]


def test_a_bar_without_kicks_has_slashes_alone():
    found, _ = drawn("Tune: @treble | C4:w | R", kicks=True)
    assert [len(layer) for layer in found.strand.bars[max(found.strand.bars)]] == [0, 4]


def test_a_pickup_has_no_slashes():
    found, music = drawn("Tune: @treble t4/4 C4:q | C4:w")
    assert music.bars[0].length < music.bars[0].nominal
    assert 0 not in found.strand.bars
