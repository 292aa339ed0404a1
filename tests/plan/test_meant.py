"""Whom a mark on a stave of several layers is meant for: the cases of `plan.meant`, worked by hand.

That a voice 1 often means no voice: of 808 scores that come with music21, those twelve that name
voices with their directions name voice 1 alone, on staves of several voices too (counted).
"""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.model.dynamics import dynamic
from expander.model.rules import StrandRule
from expander.model.score import Direction, Mark
from expander.musicxml import read_bytes, to_bytes
from expander.plan.meant import BY_LAYER, for_layer
from expander.plan.strands import take
from expander.sounding import to_sounding
from tests import mini

VOICES = ("1", "2", "5")


def mark(text: str) -> Direction:
    """One mark: its voice ("-" for none), and a level, a hairpin's end or words."""
    voice, _, what = text.partition(":")
    if what in ("p", "f", "ff"):
        made = dynamic(what, 0)
    elif what in ("<", ">", "."):
        kind = {"<": "crescendo", ">": "diminuendo", ".": "stop"}[what]
        made = Direction(0, (Mark("direction-type", "wedge", (("type", kind),)),))
    else:
        made = Direction(0, (Mark("direction-type", "words", (), what),))
    return replace(made, voice="" if voice == "-" else voice)


def said(bars: str, *more: Mark):
    """Bars, divided by |, with their marks."""
    found = {i: tuple(map(mark, bar.split())) for i, bar in enumerate(bars.split("|"))}
    if more:
        found[0] = (Direction(0, more), *found[0])
    return found


def told(marks) -> str:
    names = {"crescendo": "<", "diminuendo": ">", "stop": "."}
    return " | ".join(
        " ".join(
            names.get(m.get("type"), "") or m.text or m.inner.strip("</>")
            for d in marks.get(bar, ())
            for m in d.marks
        )
        for bar in range(2)
    )


@pytest.mark.parametrize(
    ("bars", "first", "second", "third"),
    [
        # No voice: for all.
        ("-:p | -:dolce", "p | dolce", "p | dolce", "p | dolce"),
        # A voice that the stave has not (another stave's): for all.
        ("9:p | -:f", "p | f", "p | f", "p | f"),
        # Every mark in voice 1, as programs write it that mean none: for all.
        ("1:p 1:dolce | 1:f", "p dolce | f", "p dolce | f", "p dolce | f"),
        # A lower layer's own mark is its own, and stands for the first's of its kind in the bar.
        ("1:p 2:f | 1:ff", "p | ff", "f | ff", "p | ff"),
        # Of another kind it does not: the second layer has the words too.
        ("1:dolce 2:f | -:p", "dolce | p", "dolce f | p", "dolce | p"),
        # Hairpins and levels are one kind.
        ("1:< 2:p | 1:f 2:f", "< | f", "p | f", "< | f"),
        # A hairpin ends with those with whom it began, whatever else they are told there.
        ("1:< | 1:. 2:p", "< | .", "< | . p", "< | ."),
        ("1:< 2:p | 1:. -:f", "< | . f", "p | f", "< | . f"),
        # A mark of the third layer is for it alone.
        ("5:dolce | -:p", " | p", " | p", "dolce | p"),
    ],
)
def test_a_mark_is_for_the_layers_it_is_meant_for(bars, first, second, third) -> None:
    found = [told(for_layer(said(bars), VOICES, layer)) for layer in range(3)]
    assert found == [first, second, third]


def test_where_the_stave_says_so_a_voice_is_meant_as_it_stands() -> None:
    marks = said("1:p 1:dolce | 1:f -:ff", BY_LAYER)
    found = [told(for_layer(marks, VOICES, layer)) for layer in range(3)]
    assert found == ["p dolce | f ff", " | ff", " | ff"]


def test_a_strand_of_a_layer_has_its_marks_and_one_of_the_stave_has_all() -> None:
    document = mini.document('Duo: !p "dolce" C5:w // !f "marc." E4:w | C5:w // E4:w')
    part = document.parts[0]
    voiced = tuple(
        replace(d, voice="2" if index in (2, 3) else "1")
        for index, d in enumerate(part.bars[0].directions)
    )
    bars = (replace(part.bars[0], directions=(*voiced, Direction(0, (BY_LAYER,)))), *part.bars[1:])
    document = replace(document, parts=(replace(part, bars=bars),))
    sketch = to_sounding(read_bytes(to_bytes(document), "duo.musicxml"))
    upper, lower, both = (told(take(sketch, StrandRule("x", staff=1, layer=n)).directions)
                          for n in (1, 2, 0))  # fmt: skip
    assert (upper, lower) == ("p dolce | ", "f marc. | ")
    assert both == "p dolce f marc. | "
