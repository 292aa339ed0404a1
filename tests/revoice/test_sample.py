"""The sample song for jazz orchestra, then for septet, then for jazz orchestra again."""

from __future__ import annotations

from fractions import Fraction

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.model.pitch import Drum
from expander.model.walk import events_of
from expander.musicxml import read
from expander.pipeline import expand_file
from expander.revoice.revoice import revoice_score
from expander.sounding import to_sounding
from tests.bench.revoice import at_moments, sounds
from tests.source import HOME

SAMPLES = HOME / "samples"


@pytest.fixture(scope="module")
def scores():
    """The three scores in turn."""
    rules = SAMPLES / "paper-harbour-jazz-orchestra.yaml"
    first = expand_file(read(SAMPLES / "paper-harbour.musicxml"), rules).score
    small = revoice_score(first, load_ensemble("septet")).score
    return first, small, revoice_score(small, load_ensemble("jazz-orchestra")).score


def form(score):
    """The bars with their lengths, rehearsal marks, repeats and tempo words."""
    top = score.parts[0].bars
    return [
        (
            bar.number,
            Fraction(bar.length, score.grid),
            tuple(m.text for d in part.directions for m in d.marks if m.name == "rehearsal"),
            tuple((line.location, line.style, line.repeat) for line in part.barlines),
        )
        for bar, part in zip(score.bars, top, strict=True)
    ]


def words(score):
    """The syllables of every part that has any."""
    rows = [[lyric.text for e in events_of(part) for lyric in e.lyrics] for part in score.parts]
    return [row for row in rows if row]


def line(score, name):
    """What a part begins, when and how high."""
    heard = to_sounding(score)
    part = next(p for p in heard.parts if p.name == name)
    return {
        (Fraction(bar.start + e.at, heard.grid), int(n.pitch.semitone))
        for bar, content in zip(heard.bars, part.bars, strict=True)
        for layer in content.layers
        for e in layer
        for n in e.notes
        if not n.tie_stop and not isinstance(n.pitch, Drum)
    }


def test_the_form_stays(scores) -> None:
    first, small, again = map(form, scores)
    assert sum(len(row[2]) for row in first) == 6  # the marks A to F of the sample
    assert first == small == again


def test_the_words_stay_and_one_sings_them(scores) -> None:
    first, small, again = map(words, scores)
    assert len(first) == 1
    assert len(first[0]) > 100
    assert first == small == again


def test_the_tune_stays_note_for_note(scores) -> None:
    first, small, again = (line(score, "Voice") for score in scores)
    assert len(first) > 100
    assert first == small == again


def lowest(score, moments):
    """The pitch class of the lowest note that sounds at each moment."""
    rows = at_moments(sounds(score), moments)
    return [row[0] % 12 if row else None for row in rows]


def test_the_bass_stays_at_the_bottom(scores) -> None:
    first, *others = scores
    moments = sorted({at for at, _ in line(first, "Bass")})
    wanted = lowest(first, moments)
    assert len(wanted) > 100
    for score in others:
        assert lowest(score, moments) == wanted
