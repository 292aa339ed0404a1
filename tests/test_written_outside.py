"""What we write, others read as we mean it: the same attacks, and pages without complaint."""

from __future__ import annotations

import pytest
from hypothesis import given, settings

from expander.musicxml import read_bytes, to_bytes
from tests import mini
from tests.outside import music21_pitches, our_pitches, partitura_pitches, verovio_engraves
from tests.strategies import Traits, documents
from tests.test_mini import ROWS

FEW = Traits(staves=3, bars=3)
# Overlapping notes and sounds that no part declares have no place in a file.
WHOLE_ROWS = [row for row in ROWS if "_:-" not in row and "=P1-" not in row]


@settings(max_examples=25)
@given(documents(FEW))
def test_music21_hears_what_we_wrote(score) -> None:
    assert music21_pitches(to_bytes(score)) == our_pitches(score)


@settings(max_examples=25)
@given(documents(FEW))
def test_partitura_hears_what_we_wrote(score) -> None:
    assert partitura_pitches(to_bytes(score)) == our_pitches(score)


@settings(max_examples=25)
@given(documents())
def test_verovio_engraves_what_we_wrote_in_silence(score) -> None:
    assert verovio_engraves(to_bytes(score)) == []


@settings(max_examples=25)
@given(documents())
def test_we_read_what_we_wrote(score) -> None:
    assert mini.to_text(read_bytes(to_bytes(score), "score")) == mini.to_text(score)


@pytest.mark.parametrize("row", WHOLE_ROWS)
def test_a_row_of_music_survives_the_file(row: str) -> None:
    written = to_bytes(mini.document(row))
    assert mini.to_text(read_bytes(written, "row")) == row
