"""Titles, names, credits, brackets and page breaks: field by field, each from who changed it."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from expander.merge import merge
from expander.model.score import Bracket, Carried, Credit, Document, Header, Mark
from tests.merge.versions import through_a_file, version

PIECE = version(
    "Flute: C5:w | D5:w | E5:w |.\nOboe: A4:w | B4:w | C5:w |.\nHorn: C4:w | D4:w | E4:w |."
)
BREAK = Carried(0, Mark("measure", "print", (("new-system", "yes"),)))


def headed(**fields: object) -> Document:
    return through_a_file(replace(PIECE, header=replace(Header(), **fields)))


FIELDS = {
    "a title by hand": ("work_title", "Song", "Song", "The Song", "The Song", 0),
    "a new title": ("work_title", "Song", "New Song", "Song", "New Song", 0),
    "two titles": ("work_title", "Song", "New Song", "The Song", "New Song", 1),
    "a movement's title by hand": ("movement_title", "", "", "I. Slow", "I. Slow", 0),
    "a file's name for a title": ("movement_title", "", "", "song.musicxml", "", 0),
    "a composer by hand": (
        "people",
        (("composer", "A"), ("lyricist", "B")),
        (("composer", "A"), ("lyricist", "C")),
        (("composer", "D"), ("lyricist", "B")),
        (("composer", "D"), ("lyricist", "C")),
        0,
    ),
    "rights by hand": (
        "rights",
        (("", "©"),),
        (("", "©"),),
        (("", "© 2026"),),
        (("", "© 2026"),),
        0,
    ),
    "a credit by hand": (
        "credits",
        (Credit("title", "Song"),),
        (Credit("title", "Song"), Credit("composer", "A")),
        (Credit("title", "Song"), Credit("subtitle", "for Ann")),
        (Credit("title", "Song"), Credit("composer", "A"), Credit("subtitle", "for Ann")),
        0,
    ),
    "a credit that lost its kind": (
        "credits",
        (Credit("title", "Song"),),
        (Credit("title", "Song"),),
        (Credit("", "Song"),),
        (Credit("title", "Song"),),
        0,
    ),
}
"""Field, old, new, edited, what stands, how many conflicts."""


@pytest.mark.parametrize("what", FIELDS)
def test_a_field_of_the_head(what: str) -> None:
    field, old, new, edited, stands, conflicts = FIELDS[what]
    done = merge(*(headed(**{field: value}) for value in (old, new, edited)))
    assert getattr(done.score.header, field) == stands
    assert len(done.conflicts) == conflicts


def test_of_two_titles_the_edited_stands_where_asked_for() -> None:
    versions = [headed(work_title=title) for title in ("Song", "New Song", "The Song")]
    done = merge(*versions, keep_edited=True)
    assert done.score.header.work_title == "The Song"
    assert (done.conflicts[0].new, done.conflicts[0].edited) == ("“New Song”", "“The Song”")


def test_a_head_that_a_program_lost_altogether_is_kept() -> None:
    old = headed(work_title="Song", people=(("composer", "A"),))
    assert merge(old, old, headed()).score.header == old.header


def test_credits_stay_in_the_order_of_the_edited_score() -> None:
    page = tuple(Credit(kind, kind.upper()) for kind in ("title", "lyricist", "composer"))
    edited = tuple(reversed(page))
    done = merge(headed(credits=page), headed(credits=page), headed(credits=edited))
    assert [c.kind for c in done.score.header.credits] == ["composer", "lyricist", "title"]


def bracketed(*brackets: Bracket) -> Document:
    return through_a_file(replace(PIECE, brackets=brackets))


def test_a_bracket_by_hand_holds_its_parts_where_the_new_score_puts_one_between() -> None:
    old, edited = bracketed(), bracketed(Bracket(0, 1))
    between = version(
        "Flute: C5:w | D5:w | E5:w |.\nPiccolo: C6:w | D6:w | E6:w |.\n"
        "Oboe: A4:w | B4:w | C5:w |.\nHorn: C4:w | D4:w | E4:w |."
    )
    done = merge(old, between, edited)
    assert [p.name for p in done.score.parts] == ["Flute", "Piccolo", "Oboe", "Horn"]
    assert [(b.first, b.last) for b in done.score.brackets] == [(0, 2)]


def test_a_bracket_taken_away_by_hand_stays_away_and_a_new_one_comes() -> None:
    old, new = (
        bracketed(Bracket(0, 1), Bracket(0, 2)),
        bracketed(Bracket(0, 1), Bracket(0, 2), Bracket(1, 2, "square")),
    )
    done = merge(old, new, bracketed(Bracket(0, 2)))
    assert [(b.first, b.last) for b in done.score.brackets] == [(0, 2), (1, 2)]


@pytest.mark.parametrize("changed", ["G5:w", "D5:w"])
def test_a_system_break_by_hand_stays_whoever_s_the_bar_is(changed: str) -> None:
    parts = [
        replace(p, bars=(p.bars[0], replace(p.bars[1], carried=(BREAK,)), p.bars[2]))
        for p in PIECE.parts
    ]
    edited = through_a_file(replace(PIECE, parts=tuple(parts)))
    new = version(f"Flute: C5:w | {changed} | E5:w |.\nOboe: A4:w | B4:w | C5:w |.\n"
                  "Horn: C4:w | D4:w | E4:w |.")  # fmt: skip
    done = merge(PIECE, new, edited)
    assert all(part.bars[1].carried == (BREAK,) for part in done.score.parts)
    assert done.edits == ()  # a break is no music
