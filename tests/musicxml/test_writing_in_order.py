"""What stands inside notes is written in the order of time, as ends are matched by number.

W3C MusicXML 4.0, "number-level": numbers tell apart elements that overlap within a part *as they
come in the file*. A hairpin's end that came after the next hairpin's beginning would end that one.
"""

from __future__ import annotations

import re

import pytest

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
