"""Written pitch and key held against published tables and against music21."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from expander.catalogue.ensembles import load_ensemble
from expander.catalogue.loader import instruments
from expander.model.pitch import Sounding, Transposition, Written
from expander.model.score import Key, Mark
from expander.musicxml import to_bytes
from expander.notate.spelling import for_part, in_score, spelling, written_key, written_pitch
from expander.pipeline import expand_score
from expander.plan.default import default_rules
from tests import mini
from tests.schema import assert_valid
from tests.strategies import pitches

B_FLAT, E_FLAT_ALTO, F_HORN = Transposition(-1, -2), Transposition(-5, -9), Transposition(-4, -7)
A_CLARINET, G_FLUTE, PICCOLO = Transposition(-2, -3), Transposition(-3, -5), Transposition(0, 0, 1)

MOVES = [i.transposition for i in instruments()]

# Signature shift against concert pitch: B flat +2 sharps, E flat +3, F +1, G -1 (a flat), A -3
# (instrument handbook, scribd 4726268xx, strings and score layout pages).
# Beyond six accidentals the enharmonic key with fewer: common practice, no source.
KEYS = [
    (B_FLAT, 0, 2), (B_FLAT, -1, 1), (B_FLAT, 3, 5), (B_FLAT, 4, 6), (B_FLAT, 5, -5),
    (B_FLAT, 6, -4), (B_FLAT, -7, -5),
    (E_FLAT_ALTO, 0, 3), (E_FLAT_ALTO, 3, 6), (E_FLAT_ALTO, 4, -5), (E_FLAT_ALTO, -6, -3),
    (F_HORN, 0, 1), (F_HORN, 5, 6), (F_HORN, 6, -5), (F_HORN, -4, -3),
    (A_CLARINET, 0, -3), (A_CLARINET, -3, -6), (A_CLARINET, -4, 5), (A_CLARINET, 4, 1),
    (G_FLUTE, 0, -1), (G_FLUTE, -6, 5),
    (PICCOLO, 7, 7), (Transposition(), -7, -7),
]  # fmt: skip


@pytest.mark.parametrize(("transposition", "concert", "written"), KEYS)
def test_a_key_is_written_the_usual_way(transposition, concert, written) -> None:
    assert spelling(transposition, concert, keyless=False).fifths == written


def test_a_part_without_signature_shows_none_but_is_spelled_in_its_key() -> None:
    spelled = spelling(F_HORN, -3, keyless=True)
    assert (spelled.shown, spelled.fifths) == (0, -2)
    assert written_key(Key(-3, "major"), spelled) == Key(0, "")


# The same music in the respelled key: G sharp major is read as A flat major, and so on.
RESPELLED = [
    (E_FLAT_ALTO, 5, "B3", "Ab4"),
    (E_FLAT_ALTO, 5, "A#3", "G4"),
    (B_FLAT, 6, "F#4", "Ab4"),
    (B_FLAT, 6, "E#4", "G4"),
    (F_HORN, 6, "F#4", "Db5"),
    (A_CLARINET, -4, "Ab4", "B4"),
    (A_CLARINET, -4, "Db4", "E4"),
]


@pytest.mark.parametrize(("transposition", "concert", "sounding", "written"), RESPELLED)
def test_notes_are_respelled_with_their_key(transposition, concert, sounding, written) -> None:
    spelled = spelling(transposition, concert, keyless=False)
    assert written_pitch(Sounding.named(sounding), spelled.interval) == Written.named(written)


@pytest.mark.parametrize(
    ("sounding", "transposition", "written"),
    [
        ("F##4", B_FLAT, "A4"),  # G double sharp would be a second double accidental more
        ("E#4", E_FLAT_ALTO, "D5"),  # C double sharp, which the sketch did not have
        ("Bbb3", B_FLAT, "Cb4"),
        ("Fb4", Transposition(1, 1), "Eb4"),  # no double flat
    ],
)
def test_no_double_accidental_comes_in_that_the_sketch_did_not_have(
    sounding, transposition, written
) -> None:
    pitch = written_pitch(Sounding.named(sounding), -transposition.interval)
    expected = Written.named(written)
    assert pitch.semitone == expected.semitone
    assert abs(pitch.alter) <= max(1, abs(Sounding.named(sounding).alter))


@given(pitches(Sounding), st.sampled_from(MOVES), st.integers(-7, 7))
def test_written_and_back_sounds_the_same(pitch, transposition, fifths) -> None:
    sounding = Sounding(pitch.step, pitch.alter, pitch.octave)
    spelled = spelling(transposition, fifths, keyless=False)
    written = written_pitch(sounding, spelled.interval)
    assert transposition.sounding(written).semitone == sounding.semitone


@given(pitches(Sounding), st.sampled_from(MOVES))
def test_transposition_there_and_back_is_the_same_note(pitch, transposition) -> None:
    sounding = Sounding(pitch.step, pitch.alter, pitch.octave)
    assert transposition.sounding(transposition.written(sounding)) == sounding


UP_TO_WRITTEN = [
    (B_FLAT, "M2"), (E_FLAT_ALTO, "M6"), (F_HORN, "P5"), (A_CLARINET, "m3"), (G_FLUTE, "P4"),
    (PICCOLO, "P-8"),
]  # fmt: skip


@pytest.mark.parametrize("name", ["C4", "F#5", "Bb3", "E#4", "Cb5"])
@pytest.mark.parametrize(("transposition", "up"), UP_TO_WRITTEN)
def test_written_pitch_agrees_with_music21(name, transposition, up) -> None:
    from music21 import pitch

    theirs = pitch.Pitch(name.replace("b", "-")).transpose(up)
    ours = transposition.written(Sounding.named(name))
    assert str(ours) == theirs.nameWithOctave.replace("-", "b")


@pytest.mark.parametrize(
    ("instrument", "shown"),
    [("double-bass", -12), ("piccolo", 12), ("clarinet-bb", 0), ("tenor-sax", 0), ("violin", 0)],
)
def test_a_concert_score_keeps_only_whole_octaves(instrument, shown) -> None:
    # andrewhugill.com, The Orchestra: A User's Manual (a transposed score is standard); the
    # octave instruments' habit: common practice, no source.
    from expander.catalogue.loader import instrument as load

    assert in_score(load(instrument), concert=True).interval.chromatic == shown


@pytest.mark.parametrize(
    ("instrument", "told"),
    [("clarinet-bb", (-1, -2, 0)), ("tenor-sax", (-1, -2, -1)), ("horn", (-4, -7, 0))],
)
def test_a_concert_score_tells_how_its_parts_are_transposed(instrument, told) -> None:
    # W3C MusicXML 4.0, "for-part": the transposition of a part made from a concert score.
    from expander.catalogue.loader import instrument as load

    diatonic, chromatic, octave = told
    inner = for_part(load(instrument).transposition).inner
    assert f"<diatonic>{diatonic}</diatonic><chromatic>{chromatic}</chromatic>" in inner
    assert (f"<octave-change>{octave}</octave-change>" in inner) == bool(octave)


@pytest.mark.parametrize("pitch", ["concert", "transposed"])
def test_only_what_is_not_shown_as_the_player_reads_it_is_told_for_parts(pitch) -> None:
    ensemble = load_ensemble("septet")
    sketch = mini.sketch("Tune: C5:h E5\nBass: @bass C3:w")
    rules = replace(default_rules(sketch, ensemble), pitch=pitch)
    score = expand_score(sketch, rules, ensemble).score
    told = [p.name for p in score.parts for c in p.bars[0].changes if is_for_part(c.what)]
    assert told == (["Clarinet in B\N{MUSIC FLAT SIGN}", "Horn in F"] if pitch == "concert" else [])
    assert_valid(to_bytes(score))


def is_for_part(what) -> bool:
    return isinstance(what, Mark) and what.name == "for-part"
