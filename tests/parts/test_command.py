"""The command: a folder of parts, a report, messages a musician can use."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from expander.cli import app
from expander.errors import BadUsage, CannotWrite
from expander.musicxml import read, to_bytes
from expander.parts import Options, make_parts
from expander.parts.command import write_parts
from tests import mini
from tests.parts.shared import sounds

SCORE = """
Oboes 1. 2.: [A] <q=96> "a 2" C5:w | C5+E5:w |.
Snare Drum: @perc x:w | R |.
Cymbals: @perc R | x:w |.
Violin I: G4:w | A4:w |.
"""


def score(text: str = SCORE):
    return mini.document(text)


def test_each_player_gets_a_file_in_score_order(tmp_path) -> None:
    path, folder, report = tmp_path / "s.musicxml", tmp_path / "new" / "parts", tmp_path / "r.json"
    path.write_bytes(to_bytes(score()))
    words = ["parts", str(path), "-o", str(folder), "--report", str(report)]
    told = CliRunner().invoke(app, words)
    assert told.exit_code == 0, told.output
    names = [p.name for p in sorted(folder.iterdir())]
    assert [n.split("-", 1)[1] for n in names] == [
        "oboe-1.musicxml", "oboe-2.musicxml", "snare-drum.musicxml", "cymbals.musicxml",
        "violin-i.musicxml",
    ]  # fmt: skip
    assert read(folder / names[1]).parts[0].name == "Oboe 2"
    data = json.loads(report.read_text())
    assert data["score"] == {"notes": 7, "in parts": 8, "missing": 0, "added": 0}
    assert [part["file"] for part in data["parts"]] == names
    assert [part["notes"] for part in data["parts"]] == [2, 2, 1, 1, 2]


def test_all_percussion_can_be_one_score() -> None:
    made = make_parts(score(), Options(percussion_score=True))
    assert [part.name for part in made.parts] == [
        "Oboe 1", "Oboe 2", "Percussion score", "Violin I",
    ]  # fmt: skip
    assert [p.name for p in made.parts[2].document.parts] == ["Snare Drum", "Cymbals"]
    assert made.account.missing == made.account.added == ()


def test_a_file_in_place_of_the_folder_is_told_and_kept(tmp_path) -> None:
    taken = tmp_path / "parts"
    taken.write_text("mine")
    with pytest.raises(BadUsage, match="is a file"):
        write_parts(score(), taken, Options())
    assert taken.read_text() == "mine"


def test_a_part_never_takes_the_place_of_the_score(tmp_path) -> None:
    path = tmp_path / "01-oboe-1.musicxml"
    path.write_bytes(to_bytes(score()))
    before = path.read_bytes()
    with pytest.raises(BadUsage, match="the score itself"):
        write_parts(score(), tmp_path, Options(), source=path)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == before


def test_nothing_is_left_where_a_file_cannot_be_written(tmp_path) -> None:
    (tmp_path / "03-snare-drum.musicxml").mkdir()
    with pytest.raises(CannotWrite):
        write_parts(score(), tmp_path, Options())
    assert [p.name for p in tmp_path.iterdir()] == ["03-snare-drum.musicxml"]


DIVIDED = """
Violin I: "div." C5+E5+G5+B5:w | "unis." C5:w |.
"""


def test_desks_have_the_lines_they_play() -> None:
    text = "Violin I: A5:w // F5:w // D5:w // B4:w |."
    made = make_parts(mini.document(text), Options(desks=True))
    assert [part.name for part in made.parts] == ["Violin I, desk 1", "Violin I, desk 2"]
    keys = [[key for _, _, key in sounds(part.document)] for part in made.parts]
    assert keys == [[77, 81], [71, 74]]


def test_a_section_without_desks_is_one_part() -> None:
    assert len(make_parts(mini.document(DIVIDED), Options()).parts) == 1


@pytest.mark.parametrize("desks", range(1, 8))
@pytest.mark.parametrize("lines", range(1, 8))
def test_every_line_is_played_at_some_desk(desks, lines) -> None:
    from expander.parts.desks import lines_of

    played = [set(lines_of(desk, desks, lines)) for desk in range(desks)]
    assert set().union(*played) == set(range(lines))
    assert all(played)
