"""What a program lost in saving, told from what a hand took out."""

from __future__ import annotations

from tests.merge.versions import merged, text_of, version

OLD = "Flute: {C} C5:w | {F} D5:w | {G} E5:w | {C} F5:w | {F} G5:w |."
NEW = "Flute: {C} C5:w | {F} D5:w | {G} E5:w | {Am} F5:w | {F} G5:w |."


def canonical(text: str) -> str:
    from tests import mini

    return mini.to_text(version(text), ())


def test_of_a_kind_that_is_gone_altogether_all_is_kept_and_it_is_told() -> None:
    done = merged(OLD, NEW, "Flute: C5:w | D5:w;> | E5:w | F5:w | G5:w |.")
    expected = "Flute: {C} C5:w | {F} D5:w;> | {G} E5:w | {Am} F5:w | {F} G5:w |."
    assert text_of(done) == canonical(expected)
    (told,) = done.remarks
    assert told.what == "chord symbols"
    assert "where the old one has 5" in told.message


def test_what_is_left_of_a_kind_shows_that_a_hand_took_out_the_rest() -> None:
    edited = "Flute: {C} C5:w | D5:w | E5:w | F5:w | G5:w |."
    done = merged(OLD, OLD, edited)
    assert text_of(done) == canonical(edited)
    assert not done.remarks


def test_what_went_with_its_notes_was_taken_out_by_hand() -> None:
    old = "Flute: C5:q 'la D5 'la E5 'la F5 'la | D5:w | E5:w | F5:w | G5:w |."
    edited = "Flute: R | D5:w | E5:w | F5:w | G5:w |."
    done = merged(old, old, edited)
    assert text_of(done) == canonical(edited)
    assert not done.remarks
