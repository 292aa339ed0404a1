"""The worked cases as files: three other readers hear what we mean, and engrave it in silence."""

from __future__ import annotations

from pathlib import Path

from expander.musicxml import to_bytes
from expander.notate.engraver import for_verovio
from tests.outside import music21_pitches, our_pitches, partitura_pitches, verovio_engraves
from tests.worked.cases import read_case
from tests.worked.test_worked import FILES, expand


@FILES
def test_other_readers_hear_the_case_as_we_mean_it(path: Path, tmp_path: Path) -> None:
    score = expand(read_case(path), tmp_path).score
    xml = to_bytes(score)
    ours = our_pitches(score)
    assert music21_pitches(xml) == ours
    assert partitura_pitches(xml) == ours


UNKNOWN = ("'discontinue' for pedal", "'resume' for pedal")
"""What MusicXML 4.0 has and Verovio 6 does not."""


@FILES
def test_the_case_is_engraved_without_complaint(path: Path, tmp_path: Path) -> None:
    score = expand(read_case(path), tmp_path).score
    said = verovio_engraves(to_bytes(score))
    assert [line for line in said if not any(u in line for u in UNKNOWN)] == []
    assert verovio_engraves(to_bytes(for_verovio(score))) == []
