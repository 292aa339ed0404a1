"""Lines that no player is left for, given to those who rest meanwhile."""

from __future__ import annotations

from expander.catalogue.ensembles import load_ensemble
from expander.musicxml import read
from expander.revoice.revoice import revoice_score
from expander.sounding import to_sounding
from tests import mini
from tests.musicxml.corpus import MUSIC21
from tests.revoice.conftest import line_up
from tests.revoice.mud import new_mud

THREE = """
Violin: !p D5:w | D5:h r | E5:w
Viola: @alto !p F4:h G4 | r:h A4:e B4 C5 B4 | A4:w
Violoncello: @bass !p D3:w | D3:w | C3:w
"""


def handed(done):
    return [f.message for f in done.findings if f.check == "handed-over"]


def test_who_rests_takes_a_few_notes_of_a_line_that_is_left_out() -> None:
    done = revoice_score(mini.document(THREE), line_up("flute", "bassoon"))
    row = mini.rows(to_sounding(done.score), show=())["Flute"].split("|")[1].split()
    assert row == ["D5:h", "A4:e", "B4:e", "C5:e", "B4:e"]
    assert handed(done) == ["Flute also has 4 notes of Viola in bar 2, while its own line rests."]
    assert [n.pitch for n in done.ledger.unplaced] == ["F4", "G4", "A4"]


def test_one_or_two_notes_are_not_worth_it() -> None:
    text = THREE.replace("A4:e B4 C5 B4", "A4:q B4")
    done = revoice_score(mini.document(text), line_up("flute", "bassoon"))
    assert handed(done) == []
    assert "D5:h r:h" in mini.rows(to_sounding(done.score))["Flute"]


def test_nobody_plays_two_notes_at_once_for_it() -> None:
    text = THREE.replace("D5:h r |", "D5:q E5 F5 E5 |")
    done = revoice_score(mini.document(text), line_up("flute", "bassoon"))
    assert handed(done) == []


def test_a_movement_for_four_keeps_more_and_stays_clear() -> None:
    score = read(MUSIC21 / "corpus" / "haydn" / "opus1no1" / "movement3.mxl")
    done = revoice_score(score, load_ensemble("saxophone-quartet"))
    assert handed(done)
    assert new_mud(score, done.score) == []
    assert not [f for f in done.findings if f.severity == "error"]
