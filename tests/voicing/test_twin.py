"""The compiled search that finds the figures counts what the program counts."""

from __future__ import annotations

import shutil
from random import Random

import pytest

from expander.voicing import polyphony
from expander.voicing.figures import TOTAL
from expander.voicing.polyphony import best, prepare, ways_of
from expander.voicing.tones import Tone
from tests.bench.voices_twin import Twin, labels_of, new_row

BEAT = 12

pytestmark = pytest.mark.skipif(not shutil.which("cc"), reason="no C compiler")


def music(seed, voices):
    """Voices that wander, rest, cross and meet, their notes in order."""
    random = Random(seed)
    tones = []
    for voice in range(voices):
        now, key = random.choice((0, 3, 12)), 72 - 4 * voice
        for _ in range(60):
            length = random.choice((3, 4, 6, 6, 12, 12, 18, 24))
            if random.random() < 0.85:
                tones.append(Tone(now, now + length, key))
            now += length + (random.choice((0, 0, 6, 90)) if random.random() < 0.1 else 0)
            key += random.choice((-12, -5, -4, -2, -1, 0, 0, 1, 2, 3, 7))
    return sorted(tones, key=lambda t: (t.onset, -t.semitone, t.end))


@pytest.mark.parametrize("voices", [2, 3, 4])
@pytest.mark.parametrize("seed", range(4))
def test_a_reading_is_worth_the_same_to_the_twin(seed, voices):
    tones, random = music(seed, voices), Random(seed)
    figures = [random.randint(-900, 900) for _ in range(TOTAL)]
    piece = prepare(tones, voices, BEAT, figures)
    reading = best(piece)
    labels = [0] * len(tones)
    for moment, way in zip(piece.moments, ways_of(reading), strict=True):
        for tone, voice in zip(moment.tones, way, strict=True):
            labels[tone] = voice
    twin, total = Twin(piece, tones), new_row()
    twin.count(range(len(piece.moments)), labels_of(labels), twin.silent(), 1.0, total)
    assert sum(f * t for f, t in zip(figures, total, strict=True)) == reading.worth


@pytest.mark.parametrize("voices", [2, 3, 4])
@pytest.mark.parametrize("seed", range(4))
def test_the_twin_finds_a_reading_worth_the_same(monkeypatch, seed, voices):
    for limit in ("BEHIND", "HOPELESS"):
        monkeypatch.setattr(polyphony, limit, 10**9)
    tones, random = music(seed, voices), Random(seed)
    figures = [random.randint(-900, 900) for _ in range(TOTAL)]
    piece = prepare(tones, voices, BEAT, figures)
    twin, row, total = Twin(piece, tones), new_row(), new_row()
    row[:] = figures
    everything = range(len(piece.moments))
    found = twin.search(everything, row, polyphony.WIDTH, 1e9, twin.silent().raw)
    twin.count(everything, found, twin.silent(), 1.0, total)
    worth = sum(f * t for f, t in zip(figures, total, strict=True))
    assert worth == best(piece).worth
