"""The sum of the parts is the score, on random scores and on real ones."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest
from hypothesis import given, settings

from expander.musicxml import read, read_bytes, to_bytes
from expander.parts import Options, make_parts
from expander.parts.account import account
from expander.parts.report import as_json, notes_in
from tests.outside import our_pitches, partitura_pitches, verovio_engraves
from tests.parts.shared import sounds
from tests.strategies import Traits, documents

CORPUS = Path(music21.__file__).parent / "corpus"
REAL = (
    "haydn/opus74no1/movement3.mxl",
    "mozart/k80/movement4.mxl",
    "schumann_robert/opus41no1/movement2.mxl",
    "verdi/laDonnaEMobile.mxl",
    "schubert/Lindenbaum.xml",
)


def counted(document):
    return sum(notes_in(part.document) for part in make_parts(document).parts)


@settings(max_examples=40)
@given(documents(Traits(bars=5)))
def test_random_scores_come_apart_without_loss(document) -> None:
    made = make_parts(document)
    assert made.account.missing == made.account.added == ()
    for part in made.parts:
        (index,) = part.sources
        assert sounds(part.document) == sounds(document, index)


@settings(max_examples=20)
@given(documents(Traits(bars=3)))
def test_part_files_are_valid_for_other_readers(document) -> None:
    for part in make_parts(document).parts:
        xml = to_bytes(part.document)
        again = read_bytes(xml, part.stem)
        assert again.warnings == ()
        assert sounds(again) == sounds(part.document)


@pytest.mark.parametrize("name", REAL)
def test_real_scores_come_apart_without_loss(name) -> None:
    document = read(CORPUS / name)
    made = make_parts(document)
    assert made.account.missing == made.account.added == ()
    assert made.account.score == made.account.parts
    for part in made.parts:
        (index,) = part.sources
        assert sounds(read_bytes(to_bytes(part.document), part.stem)) == sounds(document, index)


def test_other_programs_hear_and_engrave_the_parts() -> None:
    document = read(CORPUS / REAL[1])
    for part in make_parts(document, Options(cues=False)).parts:
        xml = to_bytes(part.document)
        assert partitura_pitches(xml) == our_pitches(part.document)
        assert [w for w in verovio_engraves(xml) if "Insufficient space" not in w] == []


def test_a_lost_note_is_found() -> None:
    document = read(CORPUS / REAL[1])
    made = make_parts(document)
    halves = [(p.sources, p.document) for p in made.parts[1:]]
    books = account(document, halves)
    assert {index for index, _ in books.missing} == {0}
    assert len(books.missing) == len(sounds(document, 0))


def test_the_same_score_gives_the_same_bytes() -> None:
    document = read(CORPUS / REAL[0])
    one, other = make_parts(document), make_parts(document)
    assert [to_bytes(p.document) for p in one.parts] == [to_bytes(p.document) for p in other.parts]
    assert as_json(one) == as_json(other)
