"""The sheet in each form: what stands on it, one sheet in print, clear without colour."""

from __future__ import annotations

import re
import zlib
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest

from expander import paper
from expander.errors import BadUsage
from expander.musicxml import read
from expander.outline import (
    FORMATS,
    Outline,
    ending_of,
    outline_of_plan,
    outline_of_score,
    rendered,
)
from expander.outline.picture import looks, picture, runs
from expander.outline.values import Role
from expander.pipeline import expand_file
from tests.mini import document

SAMPLES = Path(__file__).parents[2] / "samples"

SHORT = """
*: k-1 t4/4 | R | k1 | R
Voice: [A] <q=60> !p F4:q 'Go G4 'home, A4 'small C5 'boat | R | [B] !f G4:w 'home. | R
Piano: F3+A3+C4:w | F3+A3+C4:w | G3+B3+D4:w | R
"""


@pytest.fixture(scope="module")
def plan() -> Outline:
    sketch = read(SAMPLES / "paper-harbour.musicxml")
    return outline_of_plan(
        sketch, expand_file(sketch, SAMPLES / "paper-harbour-jazz-orchestra.yaml")
    )


@pytest.fixture(scope="module")
def short() -> Outline:
    return outline_of_score(document(SHORT.strip()))


def test_a_terminal_shows_form_words_players_map_and_curves(short: Outline) -> None:
    text = rendered(short, ".txt").decode()
    wanted = """\
4 bars, 0:16
A  bars 1–2: 2 bars, 0:08
  F major or D minor; 4/4; quarter = 60
        1  Go home, small boat
  tune                  Voice (p)
  pad                   Piano
B  bars 3–4: 2 bars, 0:08
  G major or E minor; 4/4; quarter = 60
        3  home.
  Voice  T·T·
  Piano  ===·
Highest: bar 1: C5.
"""
    lines = text.splitlines()
    assert [line for line in wanted.splitlines() if line not in lines] == []


def test_longest_stretches_are_told_with_bars_and_time(short: Outline) -> None:
    voice, piano = short.rows
    assert voice.playing is not None and voice.silent is not None
    assert (voice.playing.first, voice.playing.last, voice.playing.seconds) == (0, 0, 4.0)
    assert (piano.playing.first, piano.playing.last) == (0, 2) if piano.playing else False
    assert (voice.silent.first, voice.silent.seconds) == (1, 4.0)


def test_a_plan_says_who_plays_in_which_role_and_colour(plan: Outline) -> None:
    verse = next(s for s in plan.sections if s.name == "verse")
    told = {one.title: one.who for one in verse.players}
    assert told["counter-line"] == (("Trumpet in B♭ 1", "harmon mute, p"),)
    assert told["pad: inner"] == (("Trombone 1–3, Bass Trombone", "bucket mute, p"),)


def test_sections_cover_every_bar_once(plan: Outline) -> None:
    bars = [bar for s in plan.sections for bar in range(s.first, s.last + 1)]
    assert bars == list(range(len(plan.labels)))


def test_a_score_without_marks_is_one_section() -> None:
    outline = outline_of_score(document("Flute: C5:w | D5:w"))
    assert [(s.first, s.last) for s in outline.sections] == [(0, 1)]


@pytest.mark.parametrize("lyrics", [False, True])
@pytest.mark.parametrize("ending", list(FORMATS))
def test_the_same_outline_gives_the_same_bytes(ending: str, lyrics: bool, short: Outline) -> None:
    assert rendered(short, ending, lyrics=lyrics) == rendered(short, ending, lyrics=lyrics)


def test_an_unknown_ending_is_refused_with_the_known_ones() -> None:
    with pytest.raises(BadUsage, match=r"'plan\.doc'.*\.html, \.svg, \.pdf, \.txt"):
        ending_of(Path("plan.doc"))


def test_in_print_the_sample_is_one_sheet(plan: Outline) -> None:
    data = rendered(plan, ".pdf")
    assert data.startswith(b"%PDF")
    assert pages_of(data) == 1


def pages_of(pdf: bytes) -> int:
    """How many pages a PDF has: its page objects, in the packed object streams too."""
    packed = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    texts = [pdf, *(unpacked(data) for data in packed)]
    return sum(len(re.findall(rb"/Type\s*/Page\b", text)) for text in texts)


def unpacked(data: bytes) -> bytes:
    try:
        return zlib.decompress(data)
    except zlib.error:
        return b""


def test_pages_are_counted() -> None:
    values = {"title": "x", "people": [], "length": "", "sections": [], "one_image": False}
    words = [{"where": "1", "text": "word"}] * 90
    values["sections"] = [{"name": "a", "where": "", "length": "", "words": words}]
    assert pages_of(paper.pdf("outline", "lyrics.typ", values)) > 1


def test_an_svg_is_one_picture_that_names_no_outside_file(plan: Outline) -> None:
    text = rendered(plan, ".svg").decode()
    assert ElementTree.fromstring(text).tag == "{http://www.w3.org/2000/svg}svg"
    links = re.findall(r'href="([^"]*)"', text)
    assert [link for link in links if not link.startswith(("#", "data:"))] == []


def test_a_page_is_self_contained_and_escapes_what_it_shows() -> None:
    outline = outline_of_score(document("Flute: C5:w"))
    page = rendered(outline, ".html").decode()
    assert not re.search(r'(?:src|href)="(?!#)', page)
    assert "<script" not in page


def test_every_run_of_the_map_has_a_title(plan: Outline) -> None:
    count = sum(1 for row in plan.rows for _ in runs(row))
    svg = picture(plan)
    assert svg.count("<title>") == count > 50
    assert "Trombone 1, bars 9–14: pad: inner (bucket mute)" in svg


@pytest.mark.parametrize(("one", "other"), list(combinations(Role, 2)))
def test_two_roles_differ_without_colour(one: Role, other: Role) -> None:
    """In place and height in the row, in pattern, or plainly in lightness."""
    a, b = looks()[one.value], looks()[other.value]
    shape = (a["bottom"], a["height"], a["hatch"]) != (b["bottom"], b["height"], b["hatch"])
    assert shape or abs(lightness(a["fill"]) - lightness(b["fill"])) > 0.3


def lightness(colour: str) -> float:
    """Relative luminance: W3C, Web Content Accessibility Guidelines 2.2."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_sheet_of_words_has_bars_words_and_room_for_notes(plan: Outline) -> None:
    page = rendered(plan, ".html", lyrics=True).decode()
    assert re.search(r"8–12</th><td>1\. I kept the map .*?</td><td></td>", page)
    assert "Who plays" not in page
