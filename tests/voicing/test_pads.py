"""Held chords and chords on a rhythm, from the symbols of a sketch."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.errors import ExpanderError, Spot
from expander.model.plan import Strand
from expander.model.rules import StrandRule
from expander.model.score import Harmony
from expander.voicing.layout import key_of
from expander.voicing.pads import pad
from expander.voicing.symbols import symbol_at, symbols
from tests.mini import sketch

SONG = "Tune: @treble k0 | {Dm7} A4:h {G7} B4 | {Cmaj7} B4:w | R | {N.C.} R"


def rule(**settings):
    return StrandRule("pad", chords="symbols", **({"voicing": "close", "voices": 4} | settings))


def padded(text, compass=None, rhythm=None, **settings):
    music = sketch(text)
    return pad(rule(**settings), music, range(len(music.bars)), compass, rhythm)


def rows(found):
    """Each bar's layers as text: pitch, ticks, `~` for a tie on, `r` for rests."""
    return {
        index: [" ".join(_event(e) for e in layer) for layer in layers]
        for index, layers in found.strand.bars.items()
    }


def _event(event):
    if event.is_rest:
        return f"r/{event.duration}"
    (note,) = event.notes
    mark = ("<" if note.tie_stop else "") + (">" if note.tie_start else "")
    return f"{note.pitch}{mark}/{event.duration}"


def test_a_chord_is_held_from_its_symbol_to_the_next_and_tied_over_barlines():
    found = padded("Tune: @treble k0 | {Dm7} R {G7}&2 | {Cmaj7} R | R | {N.C.} R")
    bars = rows(found)
    first, second, third = (bars[i] for i in sorted(bars))
    assert [layer.count("/") for layer in first] == [2, 2, 2, 2]
    assert all(">/" in layer for layer in second)
    assert all(layer.split()[0].count("<") == 1 for layer in third)
    assert len(bars) == 3  # nothing under N.C.


def test_voices_move_least():
    found = rows(padded("Tune: @treble k0 | {Dm7} R | {G7} R | {Cmaj7} R"))
    lines = zip(*(found[i] for i in sorted(found)), strict=True)
    assert [" ".join(e.split("/")[0] for e in line) for line in lines] == [
        "A4 G4 G4",
        "F4 F4 E4",
        "D4 D4 C4",
        "C4 B3 B3",
    ]


def test_layers_are_voices_from_the_top_and_their_notes_are_new():
    found = padded(SONG).strand
    assert found.built
    assert found.staves == ()
    for layers in found.bars.values():
        assert len(layers) == 4
        events = zip(*layers, strict=True)
        for chord in events:
            keys = [key_of(e.notes[0].pitch) for e in chord if e.notes]
            assert keys == sorted(keys, reverse=True)
    assert {n.origin for b in found.bars.values() for x in b for e in x for n in e.notes} == {-1}


def test_a_chord_in_mid_bar_leaves_a_rest_before_it():
    found = rows(padded("Tune: @treble k0 t4/4 | R {C}&2"))
    assert all(layer.startswith("r/") for layer in found[max(found)])


@pytest.mark.parametrize(
    ("time", "values"),
    [
        ("4/4", ["whole"]),
        ("3/4", ["half"]),
        ("6/8", ["half"]),
        ("5/4", ["half", "half"]),
    ],
)
def test_held_chords_are_written_in_values_of_the_metre(time, values):
    found = padded(f"Tune: @treble t{time} | {{C6}} R").strand
    (layers,) = found.bars.values()
    assert [e.value.type for e in layers[0]] == values


@pytest.mark.parametrize("compass", [(48, 67), (55, 76), (60, 84)])
def test_a_pad_stays_in_the_compass_of_its_players(compass):
    found = padded(SONG, compass).strand
    keys = [key_of(n.pitch) for b in found.bars.values() for x in b for e in x for n in e.notes]
    assert compass[0] <= min(keys) <= max(keys) <= compass[1]


@pytest.mark.parametrize("voicing", ["close", "drop 2", "spread", "rootless", "fourths", "cluster"])
def test_even_a_compass_of_one_note_gives_a_chord(voicing):
    found = padded("Tune: @treble | {Dm7} R | {F#7} R", (61, 61), voicing=voicing).strand
    assert all(len(layers) == 4 for layers in found.bars.values())


def rhythm_of(music, part):
    bars = {i: bar.layers for i, bar in enumerate(music.parts[part].bars)}
    return Strand("rhythm", {i: x for i, x in bars.items() if any(x)})


def on_rhythm(text):
    music = sketch(text)
    return pad(rule(), music, range(len(music.bars)), None, rhythm_of(music, 1))


def test_a_pad_takes_the_rhythm_of_a_strand():
    found = on_rhythm(
        """Tune: @treble k0 | {C6} R | {F6} R
           Beat: @bass | r:q C3:e;. C3 r:h | C3:h r:h"""
    )
    assert [e.split("/")[0] == "r" for e in rows(found)[max(found.strand.bars)][0].split()] == [
        False,
        True,
    ]
    first = found.strand.bars[min(found.strand.bars)]
    assert all(
        [e.at for e in layer if e.notes] == [e.at for e in first[0] if e.notes] for layer in first
    )
    assert [m.name for m in first[3][1].marks] == ["staccato"]


def test_an_anticipated_beat_takes_the_chord_it_anticipates():
    # Ted Pease, Jazz Composition, p. xvi
    found = on_rhythm(
        """Tune: @treble k0 | {Dm7} R | {Cmaj7} R
           Beat: @bass | r:h. r:e C3~ | C3:h r"""
    )
    layers = found.strand.bars[min(found.strand.bars)]
    assert {layer[-1].notes[0].pitch.name for layer in layers} == {"C", "E", "G", "B"}


def test_symbols_are_found_on_any_staff_and_the_upper_staff_counts():
    music = sketch(
        """Tune: @treble | {C6} R | R
           Bass: @bass | {Am7} R | {F6} R"""
    )
    found = symbols(music)
    assert [s.harmony.kind for s in found] == ["major-sixth", "major-sixth"]
    assert [s.harmony.root for s in found] == [(0, 0), (3, 0)]
    assert symbol_at(found, 0) in (found[0], None)


def test_the_key_decides_about_tensions():
    plain = padded("Tune: @treble k0 | {Em7} R", voicing="rootless").strand
    names = {n.pitch.name for b in plain.bars.values() for x in b for e in x for n in e.notes}
    assert "F#" not in names


def test_usual_tensions_come_where_the_rule_welcomes_them():
    def names(**settings):
        found = padded("Tune: @treble k0 | {Dm7} R", **settings).strand
        return {n.pitch.name for b in found.bars.values() for x in b for e in x for n in e.notes}

    assert names() == {"D", "F", "A", "C"}
    assert names(tensions="usual") == {"E", "F", "A", "C"}


def test_no_symbol_at_all_is_reported():
    found = padded("Tune: @treble | C4:w")
    assert not found.strand.bars
    assert [f.check for f in found.findings] == ["no-chord-symbol"]
    assert "'pad'" in found.findings[0].message


def test_numerals_are_passed_over_and_reported():
    music = sketch("Tune: @treble | {C6} R | R")
    numeral = Harmony(0, None, "major", text="V")
    bars = list(music.parts[0].bars)
    bars[-1] = replace(bars[-1], harmonies=(numeral,))
    music = replace(music, parts=(replace(music.parts[0], bars=tuple(bars)),))
    found = pad(rule(), music, range(len(music.bars)))
    assert len(found.strand.bars) == 2  # the chord before goes on
    assert [f.check for f in found.findings] == ["numeral-passed-over"]


def test_only_the_bars_asked_for_are_filled():
    music = sketch("Tune: @treble | {C6} R | R | R | R")
    found = pad(rule(), music, range(2, 4))
    assert sorted(found.strand.bars) == [2, 3]
    assert not any(e.notes[0].tie_stop for layer in found.strand.bars[2] for e in layer)


def test_a_wrong_voicing_is_explained_at_its_place():
    with pytest.raises(ExpanderError) as caught:
        padded(SONG, voicing="colse", at=Spot("rules.yaml", 9))
    message = "rules.yaml:9: 'colse' is not a voicing. Did you mean 'close'?"
    assert caught.value.message == message
