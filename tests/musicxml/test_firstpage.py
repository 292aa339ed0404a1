"""Titles and people that stand on the first page alone, as in files of many programs."""

from __future__ import annotations

from pathlib import Path

import music21
import pytest

from expander.model.score import Credit, Header, Mark
from expander.musicxml import read, read_bytes, to_bytes
from expander.musicxml.firstpage import with_names

CORPUS = Path(music21.__file__).parent / "corpus"


def words(text: str, side: str = "", size: int = 0, kind: str = "", page: str = "1") -> Credit:
    look = "".join(
        f' {name}="{value}"' for name, value in (("justify", side), ("font-size", size)) if value
    )
    return Credit(
        kind, text, Mark("score", "credit", (("page", page),), "", f"<credit-words{look}>")
    )


TITLE = words("Low Tide", "center", 24)
MAKER = words("Ada Moss", "right", 12)

ROWS = {
    "in the middle and on the right": ([TITLE, MAKER], "Low Tide", [("composer", "Ada Moss")]),
    "the largest in the middle": ([words("for Ann", "center", 9), TITLE], "Low Tide", []),
    "by their kinds": (
        [words("Harbour", kind="title"), words("B. Lee", kind="lyricist"), TITLE, MAKER],
        "Harbour",
        [("lyricist", "B. Lee")],
    ),
    "rights are no title": ([words("© 2026 A. Moss", "center", 8)], "", []),
    "a page number is none": ([words("- 2 -", "center", 8)], "", []),
    "a number of a work is nobody": ([words("Op. 3 No. 2", "right", 8)], "", []),
    "not from another page": ([words("Low Tide", "center", 24, page="2")], "", []),
    "words without a place": ([words("Low Tide")], "", []),
}


@pytest.mark.parametrize(("page", "title", "people"), ROWS.values(), ids=ROWS)
def test_names_are_taken_from_the_first_page(page, title, people) -> None:
    named = with_names(Header(credits=tuple(page)))
    assert (named.movement_title, list(named.people)) == (title, people)


def test_what_the_header_says_itself_stands() -> None:
    header = Header(work_title="Own", people=(("composer", "Own"),), credits=(TITLE, MAKER))
    assert with_names(header) == header


@pytest.mark.parametrize(
    ("piece", "title", "composer"),
    [
        ("joplin/maple_leaf_rag.mxl", "Maple Leaf Rag", "Scott Joplin"),
        (
            "schumann_clara/polonaise_op1n3.mxl",
            "Polonaise in D major, Op. 1 No. 3",
            "Clara Schumann",
        ),
    ],
)
def test_a_real_file_has_its_title_and_keeps_it(piece, title, composer) -> None:
    score = read(CORPUS / piece)
    assert score.header.movement_title == title
    assert score.header.people == (("composer", composer),)
    assert read_bytes(to_bytes(score), "again").header == score.header
