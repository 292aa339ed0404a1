"""Playback: the notes that sound, when, and as what."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from expander.checks.prepare import music_of
from expander.model.score import Document
from expander.musicxml import file_bytes, read
from expander.pipeline import expand_file
from expander.proof.sound import bar_times, runs, sounds
from tests.mini import document

SAMPLES = Path(__file__).parents[2] / "samples"


def notes(score: Document, part: int = 0) -> list[list[int]]:
    return sounds(music_of(score))[part]["notes"]


def heard(text: str) -> list[tuple[int, int, int]]:
    return [(at, length, key) for at, length, key, _, _ in notes(document(text))]


@pytest.mark.parametrize(
    ("case", "text", "expected"),
    [
        ("at the tempo", "Flute: <q=120> C5:q D5 r:h", [(0, 500, 72), (500, 500, 74)]),
        ("a tie is one note", "Flute: <q=120> C5~:w | C5:w", [(0, 4000, 72)]),
        ("as it sounds", "Clarinet in B♭ (-1 -2 0): <q=120> C5:w", [(0, 2000, 70)]),
        ("staccato is half", "Flute: <q=120> C5:q;. r:h.", [(0, 250, 72)]),
        ("a grace note before", "Flute: <q=60> r:q ^D5 C5:h.", [(920, 80, 74), (1000, 3000, 72)]),
        ("a cue is silent", "Flute: <q=120> ,C5:w | D5:w", [(2000, 2000, 74)]),
    ],
)
def test_notes_sound_as_written(case: str, text: str, expected: list[tuple[int, int, int]]) -> None:
    assert heard(text) == expected, case


def test_louder_dynamics_are_louder() -> None:
    soft, loud = (notes(document(f"Flute: !{d} C5:w"))[0][3] for d in ("pp", "ff"))
    assert soft < loud <= 127


def test_pizzicato_and_mutes_have_sounds_of_their_own() -> None:
    """General MIDI: 46 is pizzicato strings, 60 the muted trumpet, 41 the violin."""
    played = notes(document('Violin: "pizz." C5:w | "arco" C5:w'))
    assert [note[4] for note in played] == [46, 41]


def test_the_notes_are_those_of_an_independent_reader(tmp_path: Path) -> None:
    """partitura's sounding notes, ties joined: every pitched onset of a real score."""
    partitura = pytest.importorskip("partitura")
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    score = expand_file(sketch, SAMPLES / "paper-harbour-septet.yaml").score
    chosen = [p for p in score.parts if p.name.startswith(("Clarinet", "Voice"))]
    two = replace(score, parts=tuple(chosen), brackets=())
    path = tmp_path / "score.musicxml"
    path.write_bytes(file_bytes(two, path))
    parts = partitura.load_score(str(path)).parts
    for index, move in enumerate((-2, 0)):
        array = parts[index].note_array()
        expected = sorted(int(pitch) + move for pitch in array["pitch"])
        ours = sorted(note[2] for note in notes(two, index))
        assert len(ours) > 60
        assert ours == expected


def test_bar_times_lead_from_bar_to_bar() -> None:
    assert bar_times(music_of(document("Flute: <q=60> R | t2/4 R"))) == [0, 4000, 6000]


@pytest.mark.parametrize(
    ("order", "stretches"),
    [
        ((), []),
        ((0, 1, 2), [(0, 2)]),
        ((0, 1, 1, 2), [(0, 1), (1, 2)]),
        ((0, 1, 2, 0, 1, 3), [(0, 2), (0, 1), (3, 3)]),
    ],
)
def test_a_playing_order_falls_into_stretches(order, stretches) -> None:
    assert list(runs(order)) == stretches
