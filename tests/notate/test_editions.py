"""Keyboard music given back to a pianist: clefs and staves beside those of the editions.

Open data: piano pieces of music21's corpus (encodings of published editions). An edition changes
clef inside a bar too; here it is changed at the barline, so what is counted is the bars of each
staff in which both have a clef in common, and the heads that stand on the edition's staff.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from expander.catalogue.ensembles import load_ensemble
from expander.model.pitch import Written
from expander.model.rules import Entry, Rules, StrandRule
from expander.model.score import Clef, Document, Part
from expander.musicxml import read
from expander.pipeline import expand_score
from expander.sounding import to_sounding
from tests.musicxml.corpus import MUSIC21

ROOT = MUSIC21 / "corpus"
BAND = "title: Piano alone\nplayers: [piano]\n"
RULES = Rules(
    strands={"right": StrandRule("right", staff=1), "left": StrandRule("left", staff=2)},
    plan={"all": (Entry("right", ("piano",)), Entry("left", ("piano",)))},
)


def given_back(path: Path, folder: Path) -> tuple[Document, Document]:
    """An edition, and what the piano gets of its two staves."""
    (folder / "piano.yaml").write_text(BAND)
    edition = read(path)
    band = load_ensemble(str(folder / "piano.yaml"), None)
    return edition, expand_score(to_sounding(edition), RULES, band).score


def clefs(part: Part[Written]) -> list[set[tuple[int, str]]]:
    """The clefs of each bar, as staff and sign."""
    now: dict[int, str] = {}
    found = []
    for bar in part.bars:
        said = [c for c in bar.changes if isinstance(c.what, Clef)]
        at_once = {c.staff for c in said if c.at == 0}
        here = {(staff, sign) for staff, sign in now.items() if staff not in at_once}
        for change in said:
            now[change.staff] = change.what.sign
            here.add((change.staff, change.what.sign))
        found.append(here)
    return found


@pytest.mark.parametrize(
    ("name", "least"),  # the least share of bars, as measured
    [
        ("joplin/maple_leaf_rag.mxl", 0.96),
        ("schumann_clara/polonaise_op1n1.mxl", 1.0),
        ("schumann_clara/polonaise_op1n2.mxl", 0.98),
        ("schumann_clara/polonaise_op1n3.mxl", 0.93),
        ("schumann_clara/polonaise_op1n4.mxl", 0.97),
        ("schoenberg/opus19/movement2.mxl", 1.0),
        ("schoenberg/opus19/movement6.mxl", 0.9),
    ],
)
def test_clefs_and_staves_are_those_of_the_edition(name, least, tmp_path) -> None:
    edition, ours = given_back(ROOT / name, tmp_path)
    before, after = clefs(edition.parts[0]), clefs(ours.parts[0])
    same = [
        bool({c for c in here if c[0] == staff} & there)
        for here, there in zip(before, after, strict=True)
        for staff in (1, 2)
    ]
    assert sum(same) / len(same) >= least
    assert staves(ours) == staves(edition)


def staves(score: Document) -> list[tuple[int, int]]:
    """How many heads stand on each staff, bar by bar."""
    part = score.parts[0]
    found = []
    for bar in part.bars:
        heads = [
            note.voice_staff or layer.staff
            for layer, events in zip(part.layers, bar.layers, strict=True)
            for event in events
            for note in event.notes
        ]
        found.append((heads.count(1), heads.count(2)))
    return found
