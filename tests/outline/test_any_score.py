"""Whatever a score holds, its outline tells of every bar and part."""

from __future__ import annotations

from hypothesis import given, settings

from expander.model.score import Document
from expander.outline import outline_of_score, rendered
from tests.mini import document
from tests.strategies import documents


@settings(max_examples=40)
@given(documents())
def test_every_bar_and_every_part_is_told(score: Document) -> None:
    outline = outline_of_score(score)
    bars = [bar for s in outline.sections for bar in range(s.first, s.last + 1)]
    assert bars == list(range(len(score.bars)))
    text = rendered(outline, ".txt").decode()
    for row in outline.rows:
        assert row.name[:30] in text
    sounding = sum(bool(e.notes) for p in score.parts for b in p.bars for x in b.layers for e in x)
    assert (sum(outline.curves.players) > 0) == (sounding > 0)


def test_a_note_that_is_only_held_in_a_phrase_has_a_role() -> None:
    held = " | ".join(["C5~:w"] * 7 + ["C5:w"])
    outline = outline_of_score(document(f"Flute: {held}"))
    assert all(cell is not None for cell in outline.rows[0].cells)


def test_a_silent_score_has_an_outline_in_every_form() -> None:
    outline = outline_of_score(document("Flute: R | R"))
    assert outline.remarks == ()
    for ending in (".txt", ".html", ".svg", ".pdf"):
        assert rendered(outline, ending)
