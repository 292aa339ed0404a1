"""Curves and times against an independent reader and player of the same file."""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.musicxml import file_bytes, read
from expander.outline import Outline, outline_of_plan, outline_of_score
from expander.outline.curves import level_number, note_name
from expander.pipeline import expand_file
from tests.mini import document

SAMPLES = Path(__file__).parents[2] / "samples"
SKETCH = SAMPLES / "paper-harbour.musicxml"


@pytest.fixture(scope="module")
def sketch() -> Outline:
    return outline_of_score(read(SKETCH))


def test_the_compass_of_each_bar_is_that_of_an_independent_reader(tmp_path: Path) -> None:
    """music21 at sounding pitch is the reference; harmonics sound where it cannot know."""
    music21 = pytest.importorskip("music21")
    done = expand_file(read(SKETCH), SAMPLES / "paper-harbour-septet.yaml")
    path = tmp_path / "score.musicxml"
    path.write_bytes(file_bytes(done.score, path))
    heard = music21.converter.parse(str(path)).toSoundingPitch()
    expected: dict[int, list[int]] = {}
    for part in heard.parts:
        for index, bar in enumerate(part.getElementsByClass("Measure")):
            notes = [n for n in bar.recurse().notes if "Harmony" not in n.classes]
            pitches = [p.midi for n in notes for p in getattr(n, "pitches", ())]
            expected.setdefault(index, []).extend(pitches)
    curves = outline_of_plan(read(SKETCH), done).curves
    lows = [min(expected[i]) if expected[i] else None for i in range(len(curves.low))]
    assert list(curves.low) == lows
    highs = [max(expected[i], default=0) for i in range(9, 32)]  # no harmonics there
    assert list(curves.high[9:32]) == highs


def test_the_length_is_that_of_an_independent_player(sketch: Outline) -> None:
    """Verovio's timemap, once through, is the reference."""
    verovio = pytest.importorskip("verovio")
    toolkit = verovio.toolkit()
    toolkit.setOptions({"expandNever": True})
    assert toolkit.loadFile(str(SKETCH))
    expected = toolkit.renderToTimemap()[-1]["tstamp"] / 1000
    assert sketch.seconds == pytest.approx(expected, abs=0.5)


def test_density_counts_players_and_notes_at_once() -> None:
    curves = outline_of_score(document("Flute: C5:w | R\nPiano: C4+E4:h R | C4+E4+G4:w")).curves
    assert curves.players == (2, 1)
    assert curves.at_once == (2.0, 3.0)


def test_loudness_is_the_mean_of_the_dynamics_in_force() -> None:
    curves = outline_of_score(document("Flute: !f C5:w | C5:w\nOboe: !p C5:w | R")).curves
    assert curves.level == (3.5, 5.0)
    assert (curves.softest[0], curves.loudest[0]) == (2.0, 5.0)


def test_no_dynamics_no_loudness() -> None:
    assert outline_of_score(document("Flute: C5:w")).curves.level == (None,)


@pytest.mark.parametrize(
    ("dynamic", "number"), [("ppp", 0), ("mf", 4), ("fff", 7), ("pppp", 0), ("sfz", None)]
)
def test_dynamics_stand_on_one_scale(dynamic: str, number: float | None) -> None:
    assert level_number(dynamic) == number


def test_heights_have_names() -> None:
    assert [note_name(60), note_name(70), note_name(21)] == ["C4", "B♭4", "A0"]


def test_the_fullest_bars_of_the_sample_are_in_the_last_chorus() -> None:
    sketch = read(SKETCH)
    done = expand_file(sketch, SAMPLES / "paper-harbour-jazz-orchestra.yaml")
    outline = outline_of_plan(sketch, done)
    fullest = next(r for r in outline.remarks if r.title == "Fullest")
    chorus = next(s for s in outline.sections if s.name == "last chorus")
    assert chorus.first <= fullest.first <= fullest.last <= chorus.last
    assert max(outline.curves.players) == outline.curves.players[fullest.first]
