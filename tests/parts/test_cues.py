"""Cues: before entries after long rests, from the line that stands out, as the reader reads."""

from __future__ import annotations

import pytest

from expander.parts import make_parts
from tests import mini

LONG = 12


def score(**staves: str):
    """A score of bars of 4/4 at 96; each staff's text is repeated bar by bar to the full length."""
    lines = []
    for name, (kind, bars) in staves.items():
        lines.append(f"{kind}: {' | '.join(bars)} |.")
        del name
    return mini.document("\n".join(lines))


def tune(notes: str, count: int = LONG + 1, first: str = "") -> list[str]:
    return [f"{first} {notes}".strip(), *[notes] * (count - 1)]


def rest_then(notes: str, rest: int = LONG) -> list[str]:
    return [*["R"] * rest, notes]


def part_of(document, name):
    return next(p for p in make_parts(document).parts if p.name.startswith(name))


def cue_of(part):
    """The cue's notes by bar index, and the words at its head."""
    document = part.document.parts[0]
    notes = {
        index: [str(n.pitch) for layer in bar.layers for e in layer if e.cue for n in e.notes]
        for index, bar in enumerate(document.bars)
    }
    return {index: row for index, row in notes.items() if row}


TEMPO = "<q=96>"


@pytest.mark.parametrize(
    ("tempo", "rest", "cued"),
    [(96, 7, False), (96, 8, True), (60, 4, False), (60, 5, True), (168, 13, False),
     (168, 14, True)],
)  # fmt: skip
def test_a_long_rest_is_eight_bars_at_a_moderate_tempo(tempo, rest, cued) -> None:
    flute = tune("C5:q D5 E5 F5", rest + 1, f"<q={tempo}>")
    document = score(a=("Flute", flute), b=("Oboe", rest_then("C5:w", rest)))
    assert bool(part_of(document, "Oboe").cues) is cued


@pytest.mark.parametrize(
    ("others", "source"),
    [
        ([("Voice", "C4:q 'la C4 'la C4 'la C4 'la"), ("Flute", "!ff C6:q C6 C6 C6")], "Voice"),
        ([("Flute", "!p C6:q C6 C6 C6"), ("Trumpet in C", "!f C5:q C5 C5 C5")], "Trumpet in C"),
        ([("Flute", "!p C6:w"), ("Bassoon", "!p C3:q C3 C3 C3")], "Bassoon"),
        ([("Bassoon", "!p C3:q C3 C3 C3"), ("Flute", "!p C6:q C6 C6 C6")], "Flute"),
        ([("Violin", "!p C5:q D5 E5 D5"), ("Double Bass", "C3:w")], "Violin"),
        ([("Violin", "!p C5:q D5 E5 D5"), ("Trumpet in C", "!f C5:w")], "Trumpet in C"),
    ],
)
def test_the_cue_is_the_line_that_stands_out(others, source) -> None:
    staves = {str(i): (name, tune(notes)) for i, (name, notes) in enumerate(others)}
    document = score(**staves, z=("Viola", rest_then("C4:w")))
    assert [cue.source for cue in part_of(document, "Viola").cues] == [source]


def test_a_cue_is_read_in_the_readers_transposition_and_clef() -> None:
    flute = tune("C6:q D6 E6 F6", first="@treble " + TEMPO)
    horn = ["@treble " + bar if n == 0 else bar for n, bar in enumerate(rest_then("C5:w"))]
    document = mini.document(
        f"Flute: {' | '.join(flute)} |.\nHorn in F (-4 -7 0): {' | '.join(horn)} |."
    )
    part = part_of(document, "Horn")
    # C6 sounding is G6 written for the horn, an octave lower to lie in its clef
    assert cue_of(part)[LONG - 1] == ["G5", "A5", "B5", "C6"]
    words = [
        m.text
        for d in part.document.parts[0].bars[LONG - 2].directions
        for m in d.marks
        if m.name == "words"
    ]
    assert words == ["Flute (8va bassa)"]


def test_the_readers_own_rests_are_shown_beside_a_cue() -> None:
    document = score(a=("Flute", tune("C5:q D5 E5 F5")), b=("Oboe", rest_then("C5:w")))
    part = part_of(document, "Oboe")
    bar = part.document.parts[0].bars[LONG - 1]
    own, cue = bar.layers
    assert [(e.whole_bar, e.notes) for e in own] == [(True, ())]
    assert all(e.cue for e in cue)
    assert "display-step" in own[0].carried[0].inner


def test_no_cues_where_none_are_wanted() -> None:
    from expander.parts import Options

    document = score(a=("Flute", tune("C5:q D5 E5 F5")), b=("Oboe", rest_then("C5:w")))
    assert all(not part.cues for part in make_parts(document, Options(cues=False)).parts)


def test_a_drummer_gets_the_rhythm_of_a_cue() -> None:
    document = score(
        a=("Flute", tune("C5:q D5 E5 F5")),
        b=("Snare Drum", ["@perc R", *["R"] * (LONG - 1), "x:w"]),
    )
    assert cue_of(part_of(document, "Snare"))[LONG - 1] == ["unpitched A5"] * 4
