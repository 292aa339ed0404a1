"""Low intervals: where the original is clear, so is the score for other players."""

from __future__ import annotations

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.musicxml import read
from expander.revoice.revoice import revoice_score
from tests import mini
from tests.musicxml.corpus import MUSIC21
from tests.revoice.conftest import line_up
from tests.revoice.mud import muddy, new_mud


@pytest.mark.parametrize("name", ["brass-quintet", "wind-band"])
def test_no_chord_of_a_madrigal_turns_muddy(name) -> None:
    score = read(MUSIC21 / "corpus" / "monteverdi" / "madrigal.5.2.mxl")
    assert new_mud(score, revoice_score(score, load_ensemble(name)).score) == []


def test_mud_is_told_from_clear_chords() -> None:
    assert muddy(mini.document("A: @bass C3:w | C3:w\nB: @bass G3:w | E3:w")) == []
    assert len(muddy(mini.document("A: @bass C2:w | C3:w\nB: @bass E2:w | E3:w"))) == 1


def test_a_third_that_only_low_players_have_stays_where_it_is() -> None:
    score = mini.document("Viola: @bass E3:w | F3:w\nVioloncello: @bass C3:w | D3:w")
    done = revoice_score(score, line_up("trombone", "tuba"))
    assert muddy(done.score) == []
