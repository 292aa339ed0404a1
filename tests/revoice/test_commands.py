"""The commands `reduce` and `revoice`, from file to file."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from expander.cli import app
from expander.errors import BadRules, BadUsage
from expander.musicxml import read, to_bytes
from expander.revoice.commands import Wanted, keys_for, revoice_document
from expander.sounding import to_sounding
from tests import mini

SONG = """
Voice: k1 G4:q 'One A4 'day B4 'at D5 'sea | {G} G4:w 'home
Piano: k1 G4+B4+D5:w | G4+B4+D5:w
+: @bass k1 G2:h D3 | G2:w
"""


@pytest.fixture
def song(tmp_path):
    path = tmp_path / "song.musicxml"
    path.write_bytes(to_bytes(mini.document(SONG)))
    return path


def run(*words):
    return CliRunner().invoke(app, [str(w) for w in words])


def test_reduce_writes_a_score_that_expands(song, tmp_path) -> None:
    sketch, score = tmp_path / "sketch.musicxml", tmp_path / "score.musicxml"
    reduced = run("reduce", song, "-o", sketch)
    assert reduced.exit_code == 0
    assert "0 left out" in reduced.stderr
    assert run("expand", sketch, "-e", "septet", "-o", score).exit_code == 0
    assert len(read(score).parts) == 7


def test_revoice_writes_score_and_report(song, tmp_path) -> None:
    score, report = tmp_path / "score.musicxml", tmp_path / "report.json"
    done = run("revoice", song, "-e", "septet", "-o", score, "--report", report)
    assert done.exit_code == 0
    account = json.loads(report.read_text())["sketch"]
    assert account["notes"] == account["placed"] + account["replaced"] + len(account["unplaced"])
    assert len(read(score).parts) == 7


def test_the_same_players_a_third_lower(song) -> None:
    done = revoice_document(read(song), Wanted(transpose="-M3"))
    moved = to_sounding(done.score)
    assert [p.name for p in moved.parts] == ["Voice", "Piano"]
    text = mini.to_text(moved, show=())
    assert "Eb4:q 'One F4:q 'day G4:q 'at Bb4:q 'sea" in text
    assert "{Eb}" in text
    assert "k-3" in text
    assert done.ledger.placed == done.ledger.notes


def test_find_key_prints_keys_with_figures_and_writes_nothing(song, tmp_path) -> None:
    done = run("revoice", song, "--find-key", "soprano")
    assert done.exit_code == 0
    assert len(done.stdout.splitlines()) == 3
    assert "% of it in the comfortable register" in done.stdout
    assert list(tmp_path.iterdir()) == [song]


def test_suggestions_can_be_asked_for_as_they_are_printed(song) -> None:
    first = keys_for(read(song), "alto")[0]
    asked = first.partition("--transpose ")[2].partition(")")[0] or "0"
    key = first.partition(":")[0]
    moved = revoice_document(read(song), Wanted(transpose=asked)) if asked != "0" else None
    assert moved is None or "k" in mini.to_text(moved.score)
    assert key.split()[-1] == "major"


RULES = """
ensemble: septet
strands:
  tune: {staff: 1}
plan:
  all:
    - {play: tune, by: horn, octave: -1, dynamic: ff}
"""


def test_rules_come_before_what_the_program_decides(song, tmp_path) -> None:
    rules = tmp_path / "rules.yaml"
    rules.write_text(RULES)
    done = revoice_document(read(song), Wanted(rules=rules))
    rows = mini.rows(to_sounding(done.score), show=())
    assert "!ff" in rows["Horn in F"]
    assert "G3:q A3:q B3:q D4:q" in rows["Horn in F"]
    assert "G4:q 'One" in rows["Voice"]


def test_rules_that_do_not_suit_the_short_score_are_told_with_their_place(song, tmp_path) -> None:
    rules = tmp_path / "rules.yaml"
    rules.write_text(RULES.replace("staff: 1", "staff: 9"))
    with pytest.raises(BadRules, match=r"rules\.yaml:4"):
        revoice_document(read(song), Wanted(rules=rules))


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        (Wanted(), "neither a line-up nor a transposition"),
        (Wanted(transpose="Q"), "'Q' says no transposition"),
    ],
)
def test_what_cannot_be_meant_is_told(song, wanted, told) -> None:
    with pytest.raises(BadUsage, match=told):
        revoice_document(read(song), wanted)


def test_without_an_output_nothing_is_done(song) -> None:
    done = run("revoice", song, "-e", "septet")
    assert done.exit_code != 0
