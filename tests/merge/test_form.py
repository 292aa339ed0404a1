"""Bars put in and cut, spans over barlines, what is in force at the seams: worked by hand."""

from __future__ import annotations

import re

import pytest

from tests.merge.versions import canonical, merged, text_of

FORM = {
    "a bar put in by the new score, a note changed by hand after it": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | A5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F#5 | G5 |.",
        "Flute: C5:w | D5 | A5 | E5 | F#5 | G5 |.",
    ),
    "a bar put in by hand, a note changed in the new score": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | A5 |.",
        "Flute: C5:w | D5 | B5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | B5 | E5 | F5 | A5 |.",
    ),
    "bars put in on both sides, at two places": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | A4 | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | B5 | G5 |.",
        "Flute: C5:w | A4 | D5 | E5 | F5 | B5 | G5 |.",
    ),
    "bars put in on both sides, at one place: the hand's stands first": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | A4 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | B5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | B5 | A4 | E5 | F5 | G5 |.",
    ),
    "a bar that both put in is one": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | A4 | E5 | F5 | G#5 |.",
        "Flute: C5:w | D5 | A4;. | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | A4;. | E5 | F5 | G#5 |.",
    ),
    "a bar cut by hand": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | A5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | A5 |.",
    ),
    "a bar cut in the new score": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "Flute: C5:w | D#5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D#5 | F5 | G5 |.",
    ),
    "a pickup stays uncounted when a bar is put in": (
        "Flute: #0! G4:q | C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: #0! G4:q | C5:w | D5 | A5 | E5 | F5 | G5 |.",
        "Flute: #0! G4:q | C5:w | D5 | E5 | F#5 | G5 |.",
        "Flute: #0! G4:q | C5:w | D5 | A5 | E5 | F#5 | G5 |.",
    ),
    "a slur over a barline into a bar that the new score changed": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F#5 | G5 |.",
        "Flute: C5:w | D5 | E5( | F5) | G5 |.",
        "Flute: C5:w | D5 | E5( | F#5) | G5 |.",
    ),
    "a slur made longer by hand over a bar that the new score puts in": (
        "Flute: C5:w | D5( | E5) | F5 | G5 |.",
        "Flute: C5:w | D5( | A5 | E5) | F5 | G5 |.",
        "Flute: C5:w | D5( | E5 | F5) | G5 |.",
        "Flute: C5:w | D5( | A5 | E5 | F5) | G5 |.",
    ),
    "slurs of both versions that overlap keep their own ends": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5( | F5 | G5) |.",
        "Flute: C5:w | D5( | E5 | F5) | G5 |.",
        "Flute: C5:w | D5( | E5(2 | F5) | G5)2 |.",
    ),
    "a hairpin by hand that ends in a new bar": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F#5 | G5 |.",
        "Flute: C5:w | D5 | !< E5 | !. F5 | G5 |.",
        "Flute: C5:w | D5 | !< E5 | !. F#5 | G5 |.",
    ),
    "a tie by hand into a bar with the note still there": (
        "Flute: C5:w | D5 | E5 | E5:h F5 | G5:w |.",
        "Flute: C5:w | D5 | E5 | E5:h F#5 | G5:w |.",
        "Flute: C5:w | D5 | E5~ | E5:h F5 | G5:w |.",
        "Flute: C5:w | D5 | E5~ | E5:h F#5 | G5:w |.",
    ),
    "a clef by hand holds in the bars the new score changed": (
        "Viola: @alto C4:w | D4 | E4 | F4 | G4 |.",
        "Viola: @alto C4:w | D4 | E4 | F#4 | G4 |.",
        "Viola: @alto C4:w | D4 | @treble E4 | F4 | @alto G4 |.",
        "Viola: @alto C4:w | D4 | @treble E4 | F#4 | @alto G4 |.",
    ),
    "a clef of the new score ends before a bar changed by hand": (
        "Viola: @alto C4:w | D4 | E4 | F4 | G4 |.",
        "Viola: @alto C4:w | @treble D4 | E4 | @alto F4 | G4 |.",
        "Viola: @alto C4:w | D4 | E4 | F#4 | G4 |.",
        "Viola: @alto C4:w | @treble D4 | E4 | @alto F#4 | G4 |.",
    ),
    "a key of the new score holds in the bars put in by hand": (
        "Viola: @alto C4:w | D4 | E4 | F4 | G4 |.",
        "Viola: @alto k-1 C4:w | D4 | E4 | F4 | G4 |.",
        "Viola: @alto C4:w | D4 | A4 | E4 | F4 | G4 |.",
        "Viola: @alto k-1 C4:w | D4 | A4 | E4 | F4 | G4 |.",
    ),
    "a metre of the new score, a note by hand elsewhere": (
        "Flute: C5:w | D5 | E5 | F5:w | G5 |.",
        "Flute: C5:w | D5 | E5 | t3/4 F5:h. | t4/4 G5:w |.",
        "Flute: C5:w | D#5 | E5 | F5:w | G5 |.",
        "Flute: C5:w | D#5 | E5 | t3/4 F5:h. | t4/4 G5:w |.",
    ),
    "a repeat of the new score round bars changed by hand": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w |: D5 | E5 :| F5 | G5 |.",
        "Flute: C5:w | D5 | E5;fermata | F5 | G5 |.",
        "Flute: C5:w |: D5 | E5;fermata :| F5 | G5 |.",
    ),
    "a part put in by the new score, under the part it stands under there": (
        "Flute: C5:w | D5 | E5 |.\nBassoon: @bass C3:w | D3 | E3 |.",
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.\nBassoon: @bass C3:w | D3 | E3 |.",
        "Flute: C5:w | D#5 | E5 |.\nBassoon: @bass C3:w | D3 | E3 |.",
        "Flute: C5:w | D#5 | E5 |.\nOboe: G4:w | A4 | B4 |.\nBassoon: @bass C3:w | D3 | E3 |.",
    ),
    "a part put in by hand, in a bar the new score puts in it rests": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | A5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | G5 |.\nOboe: G4:w | A4 | B4 | C5 | D5 |.",
        "Flute: C5:w | D5 | A5 | E5 | F5 | G5 |.\nOboe: G4:w | A4 | R | B4 | C5 | D5 |.",
    ),
    "a part taken out by hand stays out": (
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | F5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | E5 |.",
        "Flute: C5:w | D5 | F5 |.",
    ),
    "a part that the new score does not have goes where nobody touched it": (
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | E5 |.",
        "Flute: C5:w | D#5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D#5 | E5 |.",
    ),
    "parts in another order by hand, notes of the new score": (
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | F5 |.\nOboe: G4:w | A4 | B4 |.",
        "Oboe: G4:w | A4 | B4 |.\nFlute: C5:w | D5 | E5 |.",
        "Oboe: G4:w | A4 | B4 |.\nFlute: C5:w | D5 | F5 |.",
    ),
    "a part with another name by hand, notes of the new score": (
        "Flute: C5:w | D5 | E5 | F5 |.\nOboe: G4:w | A4 | B4 | C5 |.",
        "Flute: C5:w | D5 | E5 | G5 |.\nOboe: G4:w | A4 | B4 | C5 |.",
        "Traverso: C5:w | D5 | E5 | F5 |.\nOboe: G4:w | A4 | B4 | C5 |.",
        "Traverso: C5:w | D5 | E5 | G5 |.\nOboe: G4:w | A4 | B4 | C5 |.",
    ),
    "a staff put in by hand under the part": (
        "Piano: C5:w | D5 | E5 |.",
        "Piano: C5:w | D5 | F5 |.",
        "Piano: C5:w | D5 | E5 |.\n+: @bass C3:w | D3 | E3 |.",
        "Piano: C5:w | D5 | F5 |.\n+: @bass C3:w | D3 | E3 |.",
    ),
}
"""Old, new, edited, and what must stand."""


PITCH = re.compile(r"(?<![\w+])[A-G][#b]?\d~?(?!:)(?=\W)")


def whole(text: str) -> str:
    """A text in which a bar that gives no value is one whole note."""
    bars = re.split(r"(\|)", text)
    return "".join(b if re.search(r"\d~?:[hqe]", b) else PITCH.sub(r"\g<0>:w", b) for b in bars)


@pytest.mark.parametrize("what", FORM)
def test_form(what):
    old, new, edited, stands = map(whole, FORM[what])
    done = merged(old, new, edited)
    assert text_of(done) == canonical(stands)
    assert done.edits and done.changes
    assert not done.conflicts and not done.remarks


TOLD = {
    "a bar cut by hand that the new score changed stays cut": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | Eb5 | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "bar is cut in the edited score",
    ),
    "a bar cut in the new score that the hand changed is cut": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5;fermata | F5 | G5 |.",
        "Flute: C5:w | D5 | F5 | G5 |.",
        "bar is cut in the new score and was changed by hand in Flute; it is cut",
    ),
    "a slur by hand to a note that is gone": (
        "Flute: C5:w | D5 | E5:h F5 | F5:w | G5 |.",
        "Flute: C5:w | D5 | E5:w | F5 | G5 |.",
        "Flute: C5:w | D5( | E5:h F5) | F5:w | G5 |.",
        "Flute: C5:w | D5 | E5:w | F5 | G5 |.",
        "slur has lost the note or bar at one of its ends",
    ),
    "an accent by hand on a note that is gone": (
        "Flute: C5:w | D5 | E5:h F5 | F5:w | G5 |.",
        "Flute: C5:w | D5 | E5:w | F5 | G5 |.",
        "Flute: C5:w | D5 | E5:h F5;> | F5:w | G5 |.",
        "Flute: C5:w | D5 | E5:w | F5 | G5 |.",
        "mark accent has no note to stand on any more",
    ),
    "a tie by hand to a note that is gone": (
        "Flute: C5:w | D5 | E5 | E5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5~ | E5 | G5 |.",
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "tie of E5 leads to no note",
    ),
    "a bar of another length by hand and another in the new score": (
        "Flute: C5:w | D5 | E5 | F5 | G5 |.",
        "Flute: C5:w | D5 | E5 | t3/4 F5:h. | t4/4 G5:w |.",
        "Flute: C5:w | D5 | E5 | t2/4 F5:h | t4/4 G5:w |.",
        "Flute: C5:w | D5 | E5 | t3/4 F5:h. | t4/4 G5:w |.",
        "bar",
    ),
    "a part that the hand changed and the new score does not have stays": (
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | F5 |.",
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A#4 | B4 |.",
        "Flute: C5:w | D5 | F5 |.\nOboe: G4:w | A#4 | B4 |.",
        "is not in the new score; it stays",
    ),
    "a part written for another instrument by hand is not mixed with the old one's notes": (
        "Clarinet (-1 -2 0): D5:w | E5 | F5 | G5 | A5 |.\nFlute: C5:w | D5 | E5 | F5 | G5 |.",
        "Clarinet (-1 -2 0): D5:w | E5 | F5 | A5 | A5 |.\nFlute: C5:w | D5 | E5 | F5 | A5 |.",
        "Clarinet: C5:w | D5 | E5 | F5 | G5 |.\nFlute: C5:w | D5 | E5 | F5 | G5 |.",
        "Clarinet: C5:w | D5 | E5 | F5 | G5 |.\nFlute: C5:w | D5 | E5 | F5 | A5 |.",
        "Clarinet: part is at another pitch in the edited score and stays as it is there; what is",
    ),
    "a part taken out by hand that the new score changes stays out": (
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | B4 |.",
        "Flute: C5:w | D5 | E5 |.\nOboe: G4:w | A4 | C5 |.",
        "Flute: C5:w | D5 | E5 |.",
        "Flute: C5:w | D5 | E5 |.",
        "was taken out by hand and stays out",
    ),
}
"""Old, new, edited, what must stand, and what must be told."""


@pytest.mark.parametrize("what", TOLD)
def test_what_cannot_be_carried_over_is_told(what):
    from expander.merge.telling import lines

    old, new, edited, stands = map(whole, TOLD[what][:4])
    told = TOLD[what][4]
    done = merged(old, new, edited)
    assert text_of(done) == canonical(stands)
    assert any(told in line for line in lines(done)), lines(done)


def test_a_bar_the_hand_changed_stays_where_asked_for():
    case = TOLD["a bar cut in the new score that the hand changed is cut"]
    old, new, edited = map(whole, case[:3])
    assert text_of(merged(old, new, edited, keep_edited=True)) == canonical(edited)
