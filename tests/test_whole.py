"""The whole program on random music for random line-ups: nothing lost, bars full, files sound."""

from __future__ import annotations

from hypothesis import given, settings
from msgspec.structs import replace

from expander.catalogue.entries import line_up
from expander.catalogue.lineup import built
from expander.catalogue.loader import instruments
from expander.catalogue.yamlfile import Places
from expander.model.pitch import Drum
from expander.model.rules import Rules
from expander.musicxml import read_bytes, to_bytes
from expander.pipeline import expand_score
from expander.plan.default import default_rules
from tests import mini
from tests.outside import our_pitches, partitura_pitches, verovio_engraves
from tests.strategies import Traits, line_ups, sketches

SMALL = Traits(staves=3, layers=2, bars=3)


def notes_of(part):
    """Every head of a part."""
    events = (event for bar in part.bars for layer in bar.layers for event in layer)
    return [note for event in events for note in event.notes]


def notes(score):
    """Every head of a score."""
    return [note for part in score.parts for note in notes_of(part)]


def without_sounds(score):
    """Drums without the ids of their sounds: a file leaves out what a part has only one of."""
    parts = tuple(
        replace(part, bars=tuple(_without_sounds(bar) for bar in part.bars)) for part in score.parts
    )
    return replace(score, parts=parts)


def _without_sounds(bar):
    layers = tuple(
        tuple(replace(e, notes=tuple(map(_without_sound, e.notes))) for e in layer)
        for layer in bar.layers
    )
    return replace(bar, layers=layers)


def _without_sound(note):
    if not isinstance(note.pitch, Drum):
        return note
    return replace(note, pitch=replace(note.pitch, instrument=""))


def expanded(sketch, ensemble):
    return expand_score(sketch, default_rules(sketch, ensemble, Rules()), ensemble)


@settings(max_examples=40)
@given(sketches(SMALL), line_ups())
def test_every_note_is_accounted_for(sketch, ensemble) -> None:
    ledger = expanded(sketch, ensemble).ledger
    origins = {note.origin for note in notes(sketch)}
    assert ledger.notes == len(origins)
    assert ledger.notes == ledger.placed + ledger.replaced + len(ledger.unplaced)


@settings(max_examples=40)
@given(sketches(SMALL), line_ups())
def test_every_first_layer_fills_its_bar(sketch, ensemble) -> None:
    score = expanded(sketch, ensemble).score
    assert [b.number for b in score.bars] == [b.number for b in sketch.bars]
    for part in score.parts:
        first = {la.staff: i for i, la in reversed([*enumerate(part.layers)])}
        for bar, here in zip(score.bars, part.bars, strict=True):
            for layer in first.values():
                assert sum(e.duration for e in here.layers[layer]) == bar.length


def written_for(row: str, *instruments_of: str):
    """A row of a sketch, played by everybody in a line-up of these instruments."""
    file = line_up({"title": "Few", "players": list(instruments_of)})
    return expanded(mini.sketch(row), built("few", file, Places("few.yaml", {}, {}))).score


def test_drums_name_sounds_of_their_own_part() -> None:
    strangers = {}
    for unpitched in (i.id for i in instruments() if not i.pitched):
        (part,) = written_for("Drum: @perc x:q xF4 x x", unpitched).parts
        declared = {sound.id for sound in part.sounds} | {""}
        strangers[unpitched] = {note.pitch.instrument for note in notes_of(part)} - declared
    assert not any(strangers.values()), strangers


def test_a_tie_passes_a_grace_note_of_the_same_sound() -> None:
    score = written_for("Tune: G4~:h ^/Abb4:e G4:h", "flute")
    assert "G4~:h ^/Abb4:e G4:h" in mini.to_text(score, show=())


@settings(max_examples=25)
@given(sketches(SMALL), line_ups())
def test_the_score_survives_its_file(sketch, ensemble) -> None:
    score = expanded(sketch, ensemble).score
    written = to_bytes(score)
    assert to_bytes(score) == written
    again = without_sounds(read_bytes(written, "score"))
    assert mini.to_text(again) == mini.to_text(without_sounds(score))


@settings(max_examples=15)
@given(sketches(SMALL), line_ups(4))
def test_other_programs_read_and_engrave_the_score(sketch, ensemble) -> None:
    score = expanded(sketch, ensemble).score
    xml = to_bytes(score)
    assert partitura_pitches(xml) == our_pitches(score)
    assert verovio_engraves(xml) == []
