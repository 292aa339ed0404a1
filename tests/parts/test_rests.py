"""Rests of many bars: where they break (MOLA music-preparation guidelines, from memory)."""

from __future__ import annotations

import re

import pytest

from expander.model.score import Mark
from expander.musicxml import to_bytes
from expander.parts import Options, make_parts
from tests import mini

ALL = Options(cues=False)


def runs(document):
    """The long rests of a part as (first bar, last bar), from 1."""
    found = []
    for index, bar in enumerate(document.parts[0].bars):
        for change in bar.changes:
            if isinstance(change.what, Mark) and "multiple-rest" in change.what.inner:
                count = int(re.search(r"\d+", change.what.inner)[0])
                found.append((index + 1, index + count))
    return found


STAVES = "Flute: {} |.\nOboe: {} |."


def oboe_of(music: str):
    return make_parts(mini.document(music), ALL).parts[1].document


@pytest.mark.parametrize(
    ("flute", "oboe", "found"),
    [
        ("C5:w | C5:w | C5:w | C5:w", "R | R | R | C5:w", [(1, 3)]),
        ("C5:w | C5:w | C5:w | C5:w", "R | C5:w | R | R", [(3, 4)]),
        ("C5:w | C5:w | C5:w | C5:w", "R | C5:w | R | C5:w", []),
        ("C5:w | C5:w | [A] C5:w | C5:w", "R | R | R | R", [(1, 2), (3, 4)]),
        ("C5:w | C5:w | <q=96> C5:w | C5:w", "R | R | R | R", [(1, 2), (3, 4)]),
        ('C5:w | C5:w | "rit." C5:w | C5:w', "R | R | R | R", [(1, 2), (3, 4)]),
        ("C5:w | C5:w || C5:w | C5:w", "R | R | R | R", [(1, 2), (3, 4)]),
        ("C5:w | C5:w |: C5:w | C5:w", "R | R |: R | R", [(1, 2), (3, 4)]),
        ("C5:w | C5:w | k2 C5:w | C5:w", "R | R | k2 R | R", [(1, 2), (3, 4)]),
        ("C5:w | C5:w | t2/4 C5:h | C5:h", "R | R | t2/4 R | R", [(1, 2), (3, 4)]),
        ("C5:w;fermata | C5:w | C5:w | C5:w", "R | R | R | R", [(2, 4)]),
        ("C5:w | C5:w | C5:w;fermata | C5:w", "R | R | R | R", [(1, 2)]),
        ('C5:w | C5:w | C5:h "rit." C5 | C5:w', "R | R | R | R", [(1, 2)]),
    ],
)
def test_a_long_rest_is_broken_where_a_player_must_see_something(flute, oboe, found) -> None:
    assert runs(oboe_of(STAVES.format(flute, oboe))) == found


def test_a_hold_stands_over_the_rests_of_all() -> None:
    document = oboe_of(STAVES.format("C5:w | C5:w;fermata", "C5:w | R"))
    assert [m.name for m in document.parts[0].bars[1].layers[0][0].marks] == ["fermata"]


def test_system_marks_stand_in_every_part() -> None:
    text = 'Flute: [A] <q=96> "Allegro" C5:w |: C5:w :|\nOboe: R | C5:w |.'
    parts = make_parts(mini.document(text), ALL).parts
    first, second = (
        [m.name for bar in p.document.parts[0].bars for d in bar.directions for m in d.marks]
        for p in parts
    )
    assert [name for name in second if name in first] == first
    repeats = [
        [b.repeat.get("direction") for bar in p.document.parts[0].bars for b in bar.barlines
         if b.repeat]
        for p in parts
    ]  # fmt: skip
    assert repeats[0] == repeats[1] == ["forward", "backward"]


def test_a_silent_part_says_tacet() -> None:
    document = oboe_of(STAVES.format("C5:w | C5:w | C5:w", "R | R | R"))
    words = [m.text for d in document.parts[0].bars[0].directions for m in d.marks]
    assert words == ["Tacet"]
    assert runs(document) == [(1, 3)]


def test_the_file_has_the_rest_as_musicxml_names_it() -> None:
    xml = to_bytes(oboe_of(STAVES.format("C5:w | C5:w | C5:w", "R | R | C5:w"))).decode()
    assert "<measure-style><multiple-rest>2</multiple-rest></measure-style>" in xml


def test_symbols_over_silent_bars_are_left_out() -> None:
    text = "Flute: C5:w | C5:w |.\nPiano: {C} R | {G7} G4:w |."
    bars = make_parts(mini.document(text), ALL).parts[1].document.parts[0].bars
    assert [len(bar.harmonies) for bar in bars] == [0, 1]
