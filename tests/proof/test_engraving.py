"""What the engraver draws is what the score says: every head, and each staff's own key.

The engraver (Verovio) takes changes of key from the first staff alone when it reads MusicXML;
these tests hold its pages to the circle of fifths and to the count of heads.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from expander.errors import BadUsage
from expander.model.score import Document
from expander.musicxml import read
from expander.pipeline import expand_file
from expander.proof.engraving import (
    differences,
    engrave,
    head_names,
    keys_agree,
    pages_of,
    signatures,
)
from tests.mini import document
from tests.proof.pieces import BARS, band, band_proof
from tests.strategies import documents

SAMPLES = Path(__file__).parents[2] / "samples"

HALF = BARS // 2


def test_each_staff_changes_to_its_own_key() -> None:
    """A major is 3 sharps, for B flat instruments 5, for horn in F 4 (circle of fifths)."""
    drawn: dict[int, set[str]] = {}
    for bar, staff, signature in signatures(band_proof().marked.pages):
        if bar > HALF:
            drawn.setdefault(staff, set()).add(signature)
    assert drawn == {1: {"3s"}, 2: {"5s"}, 3: {"4s"}, 4: {"3s"}}


def test_every_head_of_a_real_score_is_on_a_page() -> None:
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    score = expand_file(sketch, SAMPLES / "paper-harbour-septet.yaml").score
    pages = tuple(pages_of(score))
    text = "".join(pages)
    names = list(head_names(score))
    assert len(names) > 700
    assert [name for name in names if f'id="{name}"' not in text] == []
    assert list(differences(score, pages)) == []


def test_a_head_that_is_not_drawn_is_told() -> None:
    score = document("Flute: C5:q D5 E5 F5")
    pages = [page.replace('id="n0-0-0-2-0"', 'id="gone"') for page in pages_of(score)]
    assert list(differences(score, pages)) == [
        "1 notes are not on the engraved pages; the first is in Flute, bar 1."
    ]


def test_a_wrong_signature_is_told() -> None:
    score = document("Flute: k2 C#5:w | k-3 Eb5:w")
    pages = [page.replace('data-sig="3f"', 'data-sig="1f"') for page in pages_of(score)]
    told = list(differences(score, pages))
    assert len(told) == 1 and "key signature" in told[0] and "bar 2" in told[0]


@pytest.mark.parametrize(
    ("text", "agree"),
    [
        ("Flute: k1 R | R\nOboe: k1 R | R", True),
        ("Flute: k1 R | k2 R\nOboe: k1 R | k2 R", True),
        ("Flute: k1 R | k2 R\nOboe: k1 R | k4 R", False),
        ("Flute: k1 R | R\nOboe: k1 R | k2 R", False),
    ],
)
def test_a_second_reading_is_made_only_where_staves_differ(text: str, agree: bool) -> None:
    assert keys_agree(document(text)) is agree


def test_the_same_score_gives_the_same_pages() -> None:
    assert engrave(band()) == engrave(band())


def test_pages_are_engraved_in_any_thread() -> None:
    """Verovio keeps the folder of its figures thread by thread (rism-digital/verovio, issue 2343).

    Watching engraves in whichever thread is free, while others answer the browser.
    """
    here = engrave(band())
    for _ in range(2):
        with ThreadPoolExecutor(1) as elsewhere:
            assert elsewhere.submit(engrave, band()).result() == here


def test_a_score_that_the_engraver_refuses_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("expander.paper.music", lambda _: "<no-music/>")
    with pytest.raises(BadUsage, match="could not be engraved"):
        engrave(band())


def test_music_is_hidden_from_screen_readers_and_pages_have_names_of_their_own() -> None:
    pages = band_proof().marked.pages
    assert len(pages) > 1
    for number, page in enumerate(pages, start=1):
        assert f'id="page-{number}-svg"' in page
        assert '<g aria-hidden="true" class="page-margin"' in page


def test_no_letters_of_the_engraver_s_own_font_are_left_in_text() -> None:
    score = document("Flute: <q=96> {Bb7(b9)} Bb4:w | {F#m7} F#4:w")
    text = "".join(pages_of(score))
    assert 'font-family="Leipzig"' not in text
    assert "♭" in text and "♯" in text and "♩" in text


def test_what_is_not_to_be_printed_of_a_chord_symbol_is_not() -> None:
    """MusicXML 4.0, degree: print-object is no where the kind's text says it already."""
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    text = "".join(pages_of(replace(sketch, parts=sketch.parts[:1], brackets=())))
    assert "C9sus4" in text and "no3" not in text


@settings(max_examples=12)
@given(documents())
def test_whatever_a_score_holds_its_heads_are_on_the_pages(score: Document) -> None:
    """Cue notes and notes without a printed head apart, nothing is lost on the way to the page."""
    pages = tuple(pages_of(score))
    drawn = "".join(pages)
    missing = [name for name in head_names(score) if f'id="{name}"' not in drawn]
    assert missing == []
