"""The outside readers agree with each other, and with the model, on a file written by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests import mini, outside

# A pickup, transpositions that change in mid-part, an octave-change, a tie, a chord, grace and cue
# notes, a repeat, drums, a chord symbol, two staves. Written by hand after the MusicXML 4.0
# specification (W3C); the attacks below are worked out by hand.
HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list>
<score-part id="P1"><part-name>Clarinet in B flat</part-name></score-part>
<score-part id="P2"><part-name>Drum</part-name></score-part>
<score-part id="P3"><part-name>Piano</part-name></score-part>
<score-part id="P4"><part-name>Double Bass</part-name></score-part></part-list>"""
TIME = "<time><beats>4</beats><beat-type>4</beat-type></time>"


def note(pitch: str, length: int, kind: str, extra: str = "", before: str = "") -> str:
    place = f"<pitch><step>{pitch[0]}</step><octave>{pitch[-1]}</octave></pitch>"
    if "#" in pitch:
        place = place.replace("</step>", "</step><alter>1</alter>")
    duration = f"<duration>{length}</duration>" if length else ""
    tie = f'<tie type="{extra}"/>' if extra else ""
    tied = f'<notations><tied type="{extra}"/></notations>' if extra else ""
    voice = f"<voice>1</voice><type>{kind}</type>"
    return f"<note>{before}{place}{duration}{tie}{voice}{tied}</note>"


def silence(length: int) -> str:
    return f'<note><rest measure="yes"/><duration>{length}</duration><voice>1</voice></note>'


CLARINET = (
    '<part id="P1"><measure number="0" implicit="yes"><attributes><divisions>2</divisions>'
    f"<key><fifths>2</fifths></key>{TIME}<clef><sign>G</sign><line>2</line></clef>"
    "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    + note("D5", 2, "quarter")
    + '</measure><measure number="1"><barline location="left"><repeat direction="forward"/>'
    "</barline>"
    + note("E5", 0, "eighth", before="<grace/>")
    + note("D5", 4, "half", "start")
    + note("D5", 2, "quarter", "stop")
    + note("F#5", 2, "quarter", before="<chord/>")
    + "<note><rest/><duration>2</duration><voice>1</voice><type>quarter</type></note>"
    '<barline location="right"><repeat direction="backward"/></barline></measure>'
    '<measure number="2"><attributes><transpose><diatonic>-2</diatonic><chromatic>-3</chromatic>'
    "</transpose></attributes>"
    + note("A4", 4, "half", before="<cue/>")
    + note("A4", 4, "half")
    + "</measure></part>"
)
DRUM = (
    f'<part id="P2"><measure number="0" implicit="yes"><attributes><divisions>1</divisions>{TIME}'
    "<clef><sign>percussion</sign></clef></attributes>"
    + silence(1)
    + '</measure><measure number="1"><note><unpitched><display-step>B</display-step>'
    "<display-octave>4</display-octave></unpitched><duration>4</duration><voice>1</voice>"
    '<type>whole</type></note></measure><measure number="2">' + silence(4) + "</measure></part>"
)
PIANO = (
    f'<part id="P3"><measure number="0" implicit="yes"><attributes><divisions>1</divisions>{TIME}'
    '<staves>2</staves><clef number="1"><sign>G</sign><line>2</line></clef><clef number="2">'
    "<sign>F</sign><line>4</line></clef></attributes>"
    + silence(1)
    + '</measure><measure number="1"><harmony><root><root-step>C</root-step></root>'
    "<kind>major</kind></harmony>"
    + note("C5", 4, "whole").replace("</note>", "<staff>1</staff></note>")
    + "<backup><duration>4</duration></backup>"
    + note("C3", 4, "whole")
    .replace("</note>", "<staff>2</staff></note>")
    .replace("<voice>1", "<voice>5")
    + '</measure><measure number="2">'
    + silence(4)
    + "</measure></part>"
)
BASS = (
    f'<part id="P4"><measure number="0" implicit="yes"><attributes><divisions>1</divisions>{TIME}'
    "<clef><sign>F</sign><line>4</line></clef><transpose><diatonic>0</diatonic>"
    "<chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>"
    + silence(1)
    + '</measure><measure number="1">'
    + note("C3", 4, "whole")
    + '</measure><measure number="2"><attributes><transpose><diatonic>0</diatonic>'
    "<chromatic>0</chromatic></transpose></attributes>"
    + note("C3", 4, "whole")
    + "</measure></part>"
)
XML = f"{HEAD}{CLARINET}{DRUM}{PIANO}{BASS}</score-partwise>".encode()

ATTACKS = sorted(
    (part, Fraction(onset), key)
    for part, onset, key in [
        (0, 0, 72),
        (0, 1, 74),
        (0, 1, 72),
        (0, 3, 76),
        (0, 5, 66),
        (0, 7, 66),
        (2, 1, 72),
        (2, 1, 48),
        (3, 1, 36),
        (3, 5, 48),
    ]
)

SAME = """
Clarinet (-1 -2 0): k2 D5:q | |: ^E5 D5~:h D5+F#5:q r :| tr(-2,-3,0) ,A4:h A4:h
Drum: @perc R | x:w | R
Piano: R | {C} C5:w | R
+: @bass R | C3:w | R
Double Bass (0 0 -1): @bass R | C3:w | tr(0,0,0) C3:w
"""


@pytest.mark.parametrize("reader", [outside.music21_pitches, outside.partitura_pitches])
def test_a_library_reads_the_attacks_of_a_hand_written_file(reader) -> None:
    assert reader(XML) == ATTACKS


def test_the_model_of_the_same_music_holds_the_same_attacks() -> None:
    assert outside.our_pitches(mini.document(SAME)) == ATTACKS


def test_verovio_engraves_a_good_file_in_silence() -> None:
    assert outside.verovio_pages(XML) == (1, [])


def test_verovio_says_what_is_wrong() -> None:
    bad = XML.replace(b"<type>half</type>", b"<type>wrong</type>")
    assert any("wrong" in line for line in outside.verovio_engraves(bad))


def test_a_file_that_is_no_score_gives_no_page() -> None:
    assert outside.verovio_engraves(b"rubbish")[-1] == "[Error] no page was engraved"
