"""The sample's parts for the jazz orchestra, looked at as its players would."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.model.pitch import Transposition
from expander.model.score import Key
from expander.musicxml import read, read_bytes, to_bytes
from expander.parts import make_parts
from expander.pipeline import expand_file
from tests.schema import faults

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture(scope="module")
def made():
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    score = expand_file(sketch, SAMPLES / "paper-harbour-jazz-orchestra.yaml").score
    return make_parts(read_bytes(to_bytes(score), "score"))


def named(made, name):
    return next(part for part in made.parts if part.name.startswith(name))


def words(part):
    """Words of a part by bar index."""
    return [
        (index, mark.text)
        for index, bar in enumerate(part.document.parts[0].bars)
        for direction in bar.directions
        for mark in direction.marks
        if mark.name == "words"
    ]


def test_there_is_a_part_for_each_player_and_section(made) -> None:
    assert len(made.parts) == 27
    assert [p.name for p in made.parts if p.name.startswith("Horn")] == [
        "Horn in F 1",
        "Horn in F 2",
    ]
    assert made.account.missing == made.account.added == ()
    assert made.findings == ()


def test_a_reed_player_is_told_at_once_and_again_at_the_entry(made) -> None:
    part = named(made, "Alto Saxophone in E♭ 2")
    told = [(index, text) for index, text in words(part) if "lto Sax" in text]
    (warned, first), (entry, second) = told[:2]
    assert (first, second) == ("to Alto Saxophone", "Alto Saxophone")
    bars = part.document.parts[0].bars
    played = [
        i for i in range(entry) if any(e.notes and not e.cue for la in bars[i].layers for e in la)
    ]
    assert warned == played[-1] + 1
    said = [d for d in bars[entry].directions if d.sound is not None]
    assert any("instrument-change" in d.sound.inner for d in said)
    new = [c.what for c in bars[entry].changes]
    assert Transposition(-5, -9) in new
    assert any(isinstance(what, Key) for what in new)


def test_every_part_has_every_rehearsal_mark_and_the_tempo(made) -> None:
    for part in made.parts:
        marks = [
            (index, mark.name, mark.text)
            for index, bar in enumerate(part.document.parts[0].bars)
            for direction in bar.directions
            for mark in direction.marks
            if mark.name in ("rehearsal", "metronome")
        ]
        assert [text for _, name, text in marks if name == "rehearsal"] == list("ABCDEF")
        assert (0, "metronome", "") in marks


def test_only_the_singer_sings(made) -> None:
    for part in made.parts:
        events = (e for bar in part.document.parts[0].bars for la in bar.layers for e in la)
        assert any(e.lyrics and not e.cue for e in events) == (part.name == "Voice")


def test_no_page_is_turned_without_time(made) -> None:
    turns = [turn for part in made.parts for turn in part.layout.turns]
    assert all(turn.easy for turn in turns)


def test_trombones_hear_the_singer_before_they_come_in(made) -> None:
    part = named(made, "Trombone 1")
    bars = part.document.bars
    told = [(bars[cue.first].number, bars[cue.last].number, cue.source) for cue in part.cues]
    assert ("24", "25", "Vo.") in told


def test_every_part_is_valid_musicxml(made) -> None:
    assert [fault for part in made.parts for fault in faults(to_bytes(part.document))] == []


def test_the_head_names_the_player_and_their_other_instruments(made) -> None:
    header = named(made, "Alto Saxophone in E♭ 1").document.header
    lines = {credit.kind: credit.text for credit in header.credits}
    assert lines["part name"] == "Alto Saxophone in E♭ 1 (Flute)"
    assert lines["title"] == "Paper Harbour"
