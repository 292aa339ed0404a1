"""The main job on real files: each comes out valid, and other programs read the same music.

Inputs: the MusicXML conformance suite that music21 carries (every file that holds notes) and
pieces of its corpus. Readers: the W3C MusicXML 4.0 schema, music21, partitura, verovio.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from expander.model.pitch import Drum
from expander.model.walk import notes_of
from expander.musicxml import read, read_bytes, to_bytes
from expander.pipeline import expand_file
from tests.outside import music21_pitches, our_pitches, partitura_pitches, verovio_engraves
from tests.pipeline.pieces import CORPUS, PIECES, SUITE
from tests.schema import assert_valid

SUITE_FILES = sorted(p.name for p in SUITE.iterdir() if p.suffix in (".xml", ".mxl"))

PARTITURA_STOPS = {"01d-Pitches-Microtones.xml", "01f-Pitches-EditorialMicrotoneAccidentals.xml"}
"""Files with quarter tones, whose accidentals partitura 1.9 does not know (a KeyError)."""

MUSIC21_STOPS = {
    "24c-GraceNote-MeasureEnd.xml",
    "24d-AfterGrace.xml",
    "33f-Trill-EndingOnGraceNote.xml",
}
"""Files with grace notes at the end of a bar: music21 10.5 leaves those of a transposing part at
written pitch."""


def continuations(score):
    """Where a head goes on from a tie while its part has several voices.

    partitura pairs ties by pitch alone: of two voices in unison it takes one tie for an attack.
    """
    found = Counter()
    for number, part in enumerate(score.parts):
        for bar, here in zip(score.bars, part.bars, strict=True):
            if sum(any(e.notes for e in layer) for layer in here.layers) < 2:
                continue
            for event in (e for layer in here.layers for e in layer):
                for note in event.notes:
                    if note.tie_stop and not isinstance(note.pitch, Drum):
                        found[number, Fraction(bar.start + event.at, score.grid)] += 1
    return found


def as_partitura_reads(xml, score):
    """partitura's attacks, without those it makes of ties between voices in unison."""
    ours, theirs = Counter(our_pitches(score)), Counter(partitura_pitches(xml))
    allowed = continuations(score)
    surplus = theirs - ours
    for (part, onset, key), count in surplus.items():
        if allowed[part, onset] >= count:
            theirs[part, onset, key] -= count
    return +theirs


def check(path: Path, ensemble: str) -> None:
    document = read(path)
    done = expand_file(document, None, ensemble)
    xml = to_bytes(done.score)
    assert_valid(xml)
    ours = our_pitches(done.score)
    if path.name not in MUSIC21_STOPS:
        assert music21_pitches(xml) == ours
    if path.name not in PARTITURA_STOPS:
        assert as_partitura_reads(xml, done.score) == Counter(ours)
    assert [line for line in verovio_engraves(xml) if "[Error]" in line] == []
    assert our_pitches(read_bytes(xml, path.name)) == ours
    ledger = done.ledger
    assert ledger.notes == ledger.placed + ledger.replaced + len(ledger.unplaced)
    assert len(done.score.bars) == len(document.bars)


@pytest.mark.parametrize("ensemble", ["string-orchestra", "woodwind-quintet"])
@pytest.mark.parametrize("name", SUITE_FILES)
def test_a_conformance_file_comes_out_whole(name: str, ensemble: str) -> None:
    document = read(SUITE / name)
    if not any(True for _ in notes_of(document)):
        pytest.skip("holds no notes")
    check(SUITE / name, ensemble)


@pytest.mark.parametrize("ensemble", ["string-orchestra", "septet"])
@pytest.mark.parametrize("name", PIECES)
def test_a_corpus_piece_comes_out_whole(name: str, ensemble: str) -> None:
    check(CORPUS / name, ensemble)
