"""What stands inside notes is written in the order of time, as ends are matched by number.

W3C MusicXML 4.0, "number-level": numbers tell apart elements that overlap within a part *as they
come in the file*. A hairpin's end that came after the next hairpin's beginning would end that one.
"""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from expander.musicxml import read, to_bytes
from tests import mini

IN_TURN = ["crescendo", "stop", "diminuendo", "stop"]


@pytest.mark.parametrize(
    ("bars", "kinds"),
    [
        ("!< !.&5/2 C5:h. !> D5:q | !. E5:w |.", IN_TURN),
        ("!< !.&5/2 C5:h. !> D5:q // C4:w | !. E5:w |.", IN_TURN),
        ("!< !.&5/2 C5:h. !> D5:q // C4:e C4 C4 C4 C4 C4 C4 C4 | !. E5:w |.", IN_TURN),
        ("C5:w | !<&1 !.&2 !>&3 D5:w | !. E5:w |.", IN_TURN),
        ("!<&2 !.&3 C5:h. D5:q |.", IN_TURN[:2]),
    ],
)
def test_hairpins_inside_notes_are_written_in_the_order_of_time(tmp_path, bars, kinds):
    document = mini.document(f"Oboe: {bars}")
    found = re.findall(r'<wedge type="([a-z]+)"', to_bytes(document).decode())
    assert found == kinds
    path = tmp_path / "again.musicxml"
    path.write_bytes(to_bytes(document))
    assert mini.to_text(read(path)) == mini.to_text(document)


def test_a_symbol_inside_a_note_stands_before_it_where_another_staff_s_notes_follow(tmp_path):
    """Some readers (Verovio 6) take a symbol to be for the staff of the note that follows it."""
    document = mini.document("Piano: {Dm7}&0 {G7}&2 C5:w | C5:h {G7}&3 D5\n+: C3:w | C3:w")
    staves = over_staff_1(document)
    text = to_bytes(staves).decode()
    found = re.findall(r"</harmony>(?=.*?<staff>(\d)</staff></note>)", text, re.DOTALL)
    assert found == ["1", "1", "1"]
    path = tmp_path / "again.musicxml"
    path.write_bytes(to_bytes(staves))
    assert mini.to_text(read(path)) == mini.to_text(staves)


def over_staff_1(document):
    """The document with its chord symbols over staff 1."""
    part = document.parts[0]
    bars = [
        replace(bar, harmonies=tuple(replace(h, staff=1) for h in bar.harmonies))
        for bar in part.bars
    ]
    return replace(document, parts=(replace(part, bars=tuple(bars)),))


@pytest.mark.parametrize("name", ["octave-shift", "pedal", "dashes", "bracket"])
def test_other_spans_too_where_a_later_voice_has_notes(name):
    lower = f"C3:e <{name}:start> D3 E3 <{name}:stop> F3 <{name}:start> G3:h <{name}:stop>"
    bar = f"C5:w // _:q <{name}:start> E4:h. <{name}:stop>"
    piano = f"{bar} | C5:h C5\n+: C3:q <{name}:start> D3 E3 <{name}:stop> F3 | {lower}"
    text = to_bytes(mini.document(f"Piano: {piano}")).decode()
    found = re.findall(rf'<{name} type="(\w+)".*?<staff>(\d)</staff>', text)
    assert [kind for kind, staff in found if staff == "1"] == ["start", "stop"]
    assert [kind for kind, staff in found if staff == "2"] == ["start", "stop"] * 3
