"""Worked cases: three bars or so in, the bars that must stand out, the reason in the name.

The expectations are worked out by hand from what the command promises: what one side changed is
taken from that side, what both changed differently is the new score's and told (or the hand's,
where asked for). There is no outside source for a merge of scores.
"""

from __future__ import annotations

import re

import pytest

from tests.merge.versions import canonical, merged, text_of

A = "Flute: C5:q D5 E5 F5 | G5:h E5 | "
"""Two bars nobody changes, before the bar in question."""

ONE_SIDE = {
    "a note": ("G5:q F5 E5 D5", "G5:q F5 Eb5 D5"),
    "a rhythm": ("G5:q F5 E5 D5", "G5:q. F5:e E5:q D5"),
    "a pitch respelled": ("G5:q F#5 E5 D5", "G5:q Gb5 E5 D5"),
    "a note split into tied ones": ("G5:h F5", "G5~:q G5 F5:h"),
    "a chord for a note": ("G5:h F5", "E5+G5:h F5"),
    "a rest for a note": ("G5:h F5", "G5:h r"),
    "all notes taken out": ("G5:h F5", "R"),
    "a triplet": ("G5:h F5", "3( G5:q A5 B5 ) F5:h"),
    "a grace note": ("G5:h F5", "^/A5:e G5:h F5"),
    "an articulation": ("G5:h F5", "G5:h;. F5"),
    "an articulation taken off": ("G5:h;> F5", "G5:h F5"),
    "a trill": ("G5:h F5", "G5:h;trill-mark F5"),
    "a fermata": ("G5:h F5", "G5:h F5;fermata"),
    "a fingering": ("G5:h F5", r"G5\fingering2:h F5"),
    "a notehead": ("G5:h F5", "G5%diamond:h F5"),
    "a dynamic": ("!p G5:h F5", "!mf G5:h F5"),
    "a dynamic moved": ("!p G5:h F5", "G5:h !p F5"),
    "words": ('"dolce" G5:h F5', '"con fuoco" G5:h F5'),
    "words taken out": ('"con sord." G5:h F5', "G5:h F5"),
    "a tempo": ("<q=96> G5:h F5", "<q=100> G5:h F5"),
    "a rehearsal mark": ("[A] G5:h F5", "[B] G5:h F5"),
    "a hairpin": ("G5:h F5", "!< G5:h !. F5"),
    "a slur": ("G5:q F5 E5 D5", "G5:q( F5 E5) D5"),
    "a slur made longer": ("G5:q( F5) E5 D5", "G5:q( F5 E5 D5)"),
    "a glissando": ("G5:h F5", r"G5\glissando(:h F5\glissando)"),
    "a chord symbol": ("{C} G5:h F5", "{Am7} G5:h F5"),
    "a chord symbol moved": ("{C} G5:h F5", "G5:h {C} F5"),
    "a syllable": ("G5:h 'la F5 'lo", "G5:h 'la F5 'sea"),
    "a second verse": ("G5:h 'la F5 'lo", "G5:h 'la '2:du F5 'lo '2:da"),
    "a clef": ("G5:h F5", "@alto G5:h F5"),
    "a clef inside the bar": ("G5:h F5", "G5:h @alto F5"),
    "a key": ("G5:h F5", "k-2 G5:h F5"),
    "a second voice": ("G5:h F5", "G5:h F5 // C5:w"),
    "a barline": ("G5:h F5", "G5:h F5 ||"),
}
"""What one bar says, and what it says after one change."""

END = " | C5:q D5 E5 F5 | C5:w |."


def piece(bar: str) -> str:
    """Two bars, the bar in question, two more."""
    return A + bar + ("" if bar.endswith("||") else " |") + END.removeprefix(" |")


@pytest.mark.parametrize("what", ONE_SIDE)
def test_what_the_hand_changed_stands_where_the_new_score_has_the_old(what):
    old, edited = map(piece, ONE_SIDE[what])
    done = merged(old, old, edited)
    assert text_of(done) == canonical(edited)
    assert done.edits and not done.changes and not done.conflicts and not done.remarks


@pytest.mark.parametrize("what", ONE_SIDE)
def test_what_the_new_score_changed_is_taken_where_the_hand_did_nothing(what):
    old, new = map(piece, ONE_SIDE[what])
    done = merged(old, new, old)
    assert text_of(done) == canonical(new)
    assert done.changes and not done.edits and not done.conflicts and not done.remarks


@pytest.mark.parametrize("what", ONE_SIDE)
def test_the_same_change_on_both_sides_is_no_conflict(what):
    old, new = map(piece, ONE_SIDE[what])
    done = merged(old, new, new)
    assert text_of(done) == canonical(new)
    assert not done.conflicts and not done.remarks


TOGETHER = {
    "an articulation by hand, another dynamic": (
        "!p G5:h F5", "!mf G5:h F5", "!p G5:h;. F5", "!mf G5:h;. F5",
    ),
    "words by hand, other notes": (
        "G5:h F5", "G5:h E5", '"dolce" G5:h F5', '"dolce" G5:h E5',
    ),
    "an accent by hand, a dot of the new score on one note": (
        "G5:h F5", "G5:h;. F5", "G5:h;> F5", "G5:h;>;. F5",
    ),
    "a note by hand on one, another of the new score on three": (
        "G5:q F5 E5 D5", "G5:q F5 Eb5 D5", "A5:q F5 E5 D5", "A5:q F5 Eb5 D5",
    ),
    "a rhythm by hand in the first half, a triplet in the second": (
        "G5:h F5", "G5:h 3( F5:q E5 D5 )", "G5:q. A5:e F5:h", "G5:q. A5:e 3( F5:q E5 D5 )",
    ),
    "the upper voice by hand, the lower voice new": (
        "G5:h F5 // C5:w", "G5:h F5 // B4:w", "G5:h A5 // C5:w", "G5:h A5 // B4:w",
    ),
    "a chord symbol by hand, another syllable": (
        "{C} G5:h 'la F5 'lo", "{C} G5:h 'la F5 'sea",
        "{Am} G5:h 'la F5 'lo", "{Am} G5:h 'la F5 'sea",
    ),
    "a slur by hand over new notes": (
        "G5:q F5 E5 D5", "G5:q F5 E5 C5", "G5:q( F5 E5) D5", "G5:q( F5 E5) C5",
    ),
    "a hairpin by hand, another dynamic at its end": (
        "G5:h !p F5", "G5:h !f F5", "!< G5:h !p !. F5", "!< G5:h !f !. F5",
    ),
    "a mute taken out by hand, new notes": (
        '"con sord." G5:h F5', '"con sord." G5:h E5', "G5:h F5", "G5:h E5",
    ),
    "a clef by hand, another note": (
        "G5:h F5", "G5:h E5", "@alto G5:h F5", "@alto G5:h E5",
    ),
    "a dynamic by hand where the new score writes words": (
        "G5:h F5", '"tutti" G5:h F5', "!f G5:h F5", '!f "tutti" G5:h F5',
    ),
}  # fmt: skip
"""Old, new, edited, and what stands where each side changed something else."""


@pytest.mark.parametrize("what", TOGETHER)
def test_two_changes_in_one_bar_go_together(what):
    old, new, edited, stands = map(piece, TOGETHER[what])
    done = merged(old, new, edited)
    assert text_of(done) == canonical(stands)
    assert done.edits and done.changes and not done.conflicts and not done.remarks


@pytest.mark.parametrize("what", TOGETHER)
def test_it_does_not_matter_which_of_two_changes_was_by_hand(what):
    old, new, edited, stands = map(piece, TOGETHER[what])
    assert signs(text_of(merged(old, edited, new))) == signs(canonical(stands))


def signs(text: str) -> list[str]:
    """What a text says, whatever the order of things at one place."""
    return sorted(re.split(r"[ ;]", text))


CONFLICTS = {
    "notes": ("G5:h F5", "G5:h E5", "G5:h A5", "beat 3 A5 (half)", "beat 3 E5 (half)"),
    "rhythm": (
        "G5:h F5", "G5:q E5 D5:h", "G5:w", "beat 1 G5 (whole)",
        "beat 1 G5 (quarter), beat 2 E5 (quarter), beat 3 D5 (half)",
    ),
    "dynamic": ("!p G5:h F5", "!mf G5:h F5", "!f G5:h F5", "f", "mf"),
    "dynamic taken away": ("!p G5:h F5", "!mf G5:h F5", "G5:h F5", "nothing", "mf"),
    "words": (
        '"dolce" G5:h F5', '"cantabile" G5:h F5', '"espr." G5:h F5', "“espr.”", "“cantabile”",
    ),
    "tempo": (
        "<q=96> G5:h F5", "<q=100> G5:h F5", "<q=88> G5:h F5", "quarter = 88", "quarter = 100",
    ),
    "rehearsal mark": ("[A] G5:h F5", "[B] G5:h F5", "[K] G5:h F5", "K", "B"),
    "mark": ("G5:h;. F5", "G5:h;> F5", "G5:h;- F5", "tenuto", "accent"),
    "chord symbol": ("{C} G5:h F5", "{Am} G5:h F5", "{F} G5:h F5", "F major", "A minor"),
    "syllable": ("G5:h 'la F5", "G5:h 'lo F5", "G5:h 'lu F5", "“lu”", "“lo”"),
    "slur": (
        "G5:q( F5) E5 D5", "G5:q( F5 E5) D5", "G5:q( F5 E5 D5)",
        "slur from bar 3 beat 1 to bar 3 beat 4", "slur from bar 3 beat 1 to bar 3 beat 3",
    ),
    "hairpin": (
        "G5:q F5 E5 D5", "!< G5:q F5 !. E5 D5", "!< G5:q !. F5 E5 D5",
        "crescendo from bar 3 beat 1 to bar 3 beat 2",
        "crescendo from bar 3 beat 1 to bar 3 beat 3",
    ),
    "clef": (
        "G5:h F5", "@tenor G5:h F5", "@alto G5:h F5", "C clef on line 3", "C clef on line 4",
    ),
    "clef inside": (
        "G5:h F5", "G5:h @tenor F5", "G5:h @alto F5", "C clef on line 3", "C clef on line 4",
    ),
    "key": ("G5:h F5", "k-2 G5:h F5", "k3 G5:h F5", "key of 3 sharps", "key of 2 flats"),
}  # fmt: skip
"""Old, new, edited, and the edited and new version in words."""


@pytest.mark.parametrize("what", CONFLICTS)
def test_in_a_conflict_the_new_stands_and_the_edit_is_told(what):
    old, new, edited = map(piece, CONFLICTS[what][:3])
    done = merged(old, new, edited)
    assert text_of(done) == canonical(new)
    told = done.conflicts[0]
    assert (told.part, told.bar, told.stands) == ("Flute", "3", "new")
    assert (told.edited, told.new) == CONFLICTS[what][3:]


@pytest.mark.parametrize("what", CONFLICTS)
def test_in_a_conflict_the_edit_stands_where_asked_for(what):
    old, new, edited = map(piece, CONFLICTS[what][:3])
    done = merged(old, new, edited, keep_edited=True)
    assert text_of(done) == canonical(edited)
    assert [told.stands for told in done.conflicts] == ["edited"] * len(done.conflicts)
    assert done.conflicts


def test_voices_in_another_order_are_still_the_same_voices():
    old = piece("G5:h F5 // C5:w")
    swapped = piece("C5:w // G5:h F5;.")
    done = merged(old, piece("G5:h E5 // C5:w"), swapped)
    assert signs(text_of(done)) == signs(canonical(piece("G5:h E5;. // C5:w")))
    assert not done.conflicts
    other = piece("B4:w // G5:h F5")
    done = merged(old, piece("G5:h E5 // C5:w"), other)
    assert text_of(done) == canonical(piece("G5:h E5 // B4:w"))
    assert not done.conflicts


def test_of_voices_that_became_chords_nothing_is_lost_in_a_conflict():
    old = piece("G5:h F5 // C5:h B4")
    done = merged(old, piece("G5:h F5 // C5:h A4"), piece("C5+G5:h B4+E5"))
    assert text_of(done) == canonical(piece("G5:h F5 // C5:h A4"))
    (told,) = done.conflicts
    assert told.edited == "beat 1 C5 G5 (half), beat 3 B4 E5 (half)"


def test_a_conflict_on_one_beat_leaves_the_edit_on_another():
    done = merged(
        piece("G5:q F5 E5 D5"), piece("G5:q F5 E5 C5"), piece("A5:q F5 E5 B4"),
    )  # fmt: skip
    assert text_of(done) == canonical(piece("A5:q F5 E5 C5"))
    assert [(t.beat, t.edited) for t in done.conflicts] == [(4.0, "beat 4 B4 (quarter)")]
