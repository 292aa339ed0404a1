"""What belongs to the old player's hands: played otherwise by the new one, and told."""

from __future__ import annotations

import pytest

from expander.model.walk import events_of
from expander.musicxml import read_bytes, to_bytes
from expander.revoice.revoice import revoice_score
from expander.sounding import to_sounding
from tests import mini
from tests.revoice.conftest import line_up

LOW = "Violoncello: @bass !p C3:h G2:e A2 B2:q"


def with_tremolo(text, slashes):
    """The score with a tremolo on every note of its first part."""
    plain = to_bytes(mini.document(text)).decode()
    first, _, rest = plain.partition("</part>")
    mark = f'<ornaments><tremolo type="single">{slashes}</tremolo></ornaments>'
    marked = first.replace("</type>", f"</type>\n<notations>{mark}</notations>")
    return read_bytes((marked + "</part>" + rest).encode(), "score.musicxml")


def told(done):
    return [f.message for f in done.findings if f.check == "played-otherwise"]


def tremolos(score, part):
    return [m for e in events_of(score.parts[part]) for m in e.marks if m.name == "tremolo"]


@pytest.mark.parametrize(
    ("slashes", "values"),
    [
        (1, "C5:e C5:e C5:e C5:e"),  # 1: quavers, as the slash says (MusicXML 4.0, tremolo)
        (3, "C5:h"),  # 3: as fast as can be; no tongue does that
    ],
)
def test_a_tremolo_is_repeated_or_held_by_who_blows(slashes, values) -> None:
    score = with_tremolo(f"Violin: !p C5:h D5\n{LOW}", slashes)
    done = revoice_score(score, line_up("flute", "bassoon"))
    assert tremolos(done.score, 0) == []
    assert values in mini.rows(to_sounding(done.score), show=())["Flute"].replace("&1", "")
    assert len(told(done)) == 1
    assert "Violin in bar 1" in told(done)[0]
    assert done.ledger.placed == 6


def test_a_tremolo_stays_one_under_a_bow() -> None:
    score = with_tremolo(f"Violin: !p C5:h D5\n{LOW}", 3)
    done = revoice_score(score, line_up("viola", "cello"))
    assert len(tremolos(done.score, 0)) == 2
    assert told(done) == []


def test_bowings_are_for_bows() -> None:
    score = mini.document(f"Violin: !p C5:q;up-bow D5;down-bow E5;> F5\n{LOW}")
    done = revoice_score(score, line_up("oboe", "bassoon"))
    names = {m.name for e in events_of(done.score.parts[0]) for m in e.marks}
    assert "accent" in names
    assert not names & {"up-bow", "down-bow"}
    assert [m.rpartition(", ")[2] for m in told(done)] == [
        "has nothing for the mark 'up bow'.",
        "has nothing for the mark 'down bow'.",
    ]


def test_a_bow_is_no_stroke_of_the_harp() -> None:
    score = mini.document(f"Violin: !p C5:q;up-bow D5;down-bow E5;> F5\n{LOW}")
    done = revoice_score(score, line_up("harp", "cello"))
    names = {m.name for part in done.score.parts for e in events_of(part) for m in e.marks}
    assert names == {"accent"}


def test_plucked_notes_are_short_ones_to_who_blows() -> None:
    score = mini.document(f'Violin: !p "pizz." C5:q D5 E5:h\n{LOW}')
    done = revoice_score(score, line_up("flute", "bassoon"))
    row = mini.rows(to_sounding(done.score))["Flute"]
    assert "C5:q;." in row
    assert "E5:h;." not in row
    assert "pizz" not in row
    assert any("plays short" in text for text in told(done))


def test_words_for_another_family_are_left_out_and_told() -> None:
    score = mini.document(f'Violin: !p "sul pont." C5:q D5 E5:h\n{LOW}')
    done = revoice_score(score, line_up("flute", "bassoon"))
    assert "pont" not in mini.rows(to_sounding(done.score))["Flute"]
    assert any("'sul pont.'" in text for text in told(done))
