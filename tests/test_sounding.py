"""From written to sounding: pitches, keys, chord symbols, and the numbers of the notes."""

import pytest

from expander.model.pitch import Interval
from expander.model.score import Key
from expander.musicxml import read, read_bytes
from expander.sounding import HeardPart, heard_pitches, origins, to_sounding
from tests import mini
from tests.musicxml import broken as b
from tests.musicxml.corpus import CONFORMANCE, label

INTERVALS = [
    # Steps of the circle of fifths: any handbook's table of transposing instruments.
    ((-1, -2), -2),  # B flat
    ((-5, -9), -3),  # E flat, down
    ((2, 3), -3),  # E flat, up
    ((-4, -7), -1),  # F
    ((-2, -3), 3),  # A
    ((-8, -14), -2),  # B flat, an octave lower
    ((7, 12), 0),  # an octave
    ((1, 2), 2),  # D
    ((-6, -10), 2),  # D, down
]


@pytest.mark.parametrize(("interval", "fifths"), INTERVALS)
def test_a_key_moves_round_the_circle_of_fifths(interval, fifths):
    assert Interval(*interval).fifths == fifths


@pytest.mark.parametrize(
    ("written", "sounding"),
    [
        (
            "Clarinet (-1 -2 0): @treble k2 {Em7/D} D4:q F#4 A4 Bb4",
            "Clarinet: @treble k0 {Dm7/C} C4:q E4 G4 Ab4",
        ),
        (
            "Horn (-4 -7 0): @treble k1 G4:h B4",
            "Horn: @treble k0 C4:h E4",
        ),
        (
            "Double bass (0 0 -1): @bass k-1 F3:w",
            "Double bass: @bass k-1 F2:w",
        ),
        (
            "Clarinet: @treble k0 C4:h tr(-1,-2,0) D4",
            None,
        ),
    ],
)
def test_written_music_sounds_as_the_handbooks_say(written, sounding):
    sketch = to_sounding(mini.document(written))
    if sounding is None:
        assert [str(n.pitch) for n in _notes(sketch)] == ["C4", "C4"]
        return
    assert mini.to_text(sketch) == mini.to_text(mini.sketch(sounding))


def _notes(sketch):
    return [
        note
        for part in sketch.parts
        for bar in part.bars
        for layer in bar.layers
        for event in layer
        for note in event.notes
    ]


def test_each_staff_may_have_its_own_transposition():
    opening = b.OPENING.replace("<clef>", "<staves>2</staves><clef>").replace(
        "</attributes>",
        '<transpose number="2"><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>'
        "</attributes>",
    )
    low = b.NOTE.replace("</note>", "<staff>2</staff></note>").replace("<voice>1", "<voice>2")
    back = "<backup><duration>4</duration></backup>"
    sketch = to_sounding(read_bytes(b.notes(b.NOTE, back, low, opening=opening), "two staves"))
    assert [str(n.pitch) for n in _notes(sketch)] == ["C4", "Bb3"]


def test_a_new_transposition_gives_the_key_in_force_a_new_sound():
    sketch = to_sounding(mini.document("Horn: @treble k0 C4:w | tr(-4,-7,0) G4:w"))
    keys = [
        [c.what for c in bar.changes if isinstance(c.what, Key)] for bar in sketch.parts[0].bars
    ]
    assert keys == [[Key(0)], [Key(-1)]]


def numbers(text):
    """The origins of a document's notes, in the order in which they stand."""
    return [note.origin for note in _notes(to_sounding(mini.document(text)))]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Flute: t4/4 C4:q D4 E4 F4", [0, 1, 2, 3]),
        ("Flute: t4/4 C4~:h C4~ | C4:w", [0, 0, 0]),
        ("Flute: t4/4 C4+E4~:h C4+E4", [0, 1, 2, 1]),
        ("Flute: t4/4 C4~:h D4 | C4:w", [0, 1, 2]),  # a tie that nothing answers
        ("Flute: t4/4 ,C4:h D4:h", [-1, 0]),
        ("Flute: t4/4 ^C5 D4:w", [0, 1]),
        ("Flute: t4/4 C4:w // E4:w | D4:w // F4:w", [0, 2, 1, 3]),
        ("Snare: t4/4 x:h x", [0, 1]),
    ],
)
def test_notes_are_numbered_by_staff_layer_and_time(text, expected):
    assert numbers(text) == expected


def test_staves_are_numbered_from_the_top_down():
    sketch = to_sounding(
        mini.document("Flute: t4/4 C5:w\nPiano: t4/4 E4:w // C4:w\n+: t4/4 C3+G3:w")
    )
    found = [
        (o.number, o.staff, o.layer, o.bar, o.at, str(o.pitch)) for o in origins(sketch).values()
    ]
    assert found == [
        (0, 1, 1, 0, 0, "C5"),
        (1, 2, 1, 0, 0, "E4"),
        (2, 2, 2, 0, 0, "C4"),
        (3, 3, 1, 0, 0, "C3"),
        (4, 3, 1, 0, 0, "G3"),
    ]


def test_a_tie_may_go_on_in_another_voice():
    tied = b.NOTE.replace("<voice>", '<tie type="start"/><voice>')
    other = b.NOTE.replace("<voice>1", '<tie type="stop"/><voice>2')
    text = b.score(b.bar(tied), b.bar(other, "2", "")).encode()
    sketch = to_sounding(read_bytes(text, "tied"))
    assert [note.origin for note in _notes(sketch)] == [0, 0]
    assert [(o.bar, o.layer) for o in origins(sketch).values()] == [(0, 1)]


def moved(chromatic):
    return f"<attributes><transpose><chromatic>{chromatic}</chromatic></transpose></attributes>"


HALF = b.NOTE.replace(">4</dur", ">2</dur").replace("whole", "half")
CHANGING = b.score(
    b.bar(HALF + HALF, "1"),
    b.bar(HALF + moved(-2) + HALF, "2", ""),
    b.bar(HALF + HALF, "3", ""),
    b.bar(HALF + HALF, "4", moved(-9)),
    b.bar(HALF + HALF, "5", ""),
).encode()
"""The player takes up another instrument inside a bar, and a third at the start of one."""

FILES = {"an instrument changed on the way": CHANGING, **{label(p): p for p in CONFORMANCE}}


def opened(name):
    file = FILES[name]
    return read_bytes(file, "air") if isinstance(file, bytes) else read(file)


@pytest.mark.parametrize("name", FILES)
def test_bars_heard_on_request_are_those_of_the_whole_score_in_any_order(name):
    document = opened(name)
    for part, whole in zip(document.parts, to_sounding(document).parts, strict=True):
        heard = HeardPart(part)
        for bar in reversed(range(len(part.bars))):
            layers = [heard.events(bar, layer) for layer in range(len(part.layers))]
            assert layers == [*whole.bars[bar].layers]
            assert heard.changes[bar] == whole.bars[bar].changes


@pytest.mark.parametrize("name", FILES)
def test_pitches_heard_are_those_of_the_whole_score(name):
    document = opened(name)
    for part, whole in zip(document.parts, to_sounding(document).parts, strict=True):
        told = [(bar, event.at, pitch) for bar, event, pitch in heard_pitches(part)]
        assert told == [
            (bar, event.at, note.pitch)
            for bar, content in enumerate(whole.bars)
            for layer in content.layers
            for event in layer
            for note in event.notes
        ]
