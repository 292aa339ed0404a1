"""PDF parts: pages as laid out, the same bytes each time, nothing but outlines and words."""

from __future__ import annotations

import re
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from expander.errors import BadUsage
from expander.parts import Options, make_parts
from tests import mini

pytest.importorskip("verovio")
pytest.importorskip("typst")

from expander.parts.drawing import drawn
from expander.parts.engraving import engraved, shortened, with_long_rests
from expander.parts.pdf import pdf_of

MUSIC = " | ".join(["C5:q D5 E5 F5"] * 60)
LONG = f'Flute: [A] "Allegro" <q=96> {MUSIC} |.\nOboe: {" | ".join(["R"] * 20 + ["C5:w"] * 40)} |.'


@pytest.fixture(scope="module")
def made():
    return make_parts(mini.document(LONG), Options(cues=False)).parts


def pages_in(pdf: bytes) -> int:
    """Pages of a PDF by its page tree's count."""
    return max(int(n) for n in re.findall(rb"/Count (\d+)", pdf))


def test_a_pdf_has_the_pages_of_the_layout_and_the_same_bytes_again(made) -> None:
    for part in made:
        pdf = pdf_of(part)
        assert pdf.startswith(b"%PDF-")
        assert pages_in(pdf) == len(part.layout.pages) + 1
        assert pdf == pdf_of(part)


def test_parts_are_engraved_in_any_thread(made) -> None:
    """Verovio keeps the folder of its figures thread by thread (rism-digital/verovio, 2343)."""
    flute = made[0]
    here = engraved(flute.document, flute.runs, 180.0)
    with ThreadPoolExecutor(1) as elsewhere:
        assert elsewhere.submit(engraved, flute.document, flute.runs, 180.0).result() == here


def test_systems_are_those_of_the_layout(made) -> None:
    flute = made[0]
    pages = engraved(flute.document, flute.runs, 180.0)
    counts = [len(re.findall('class="system"', page.svg)) for page in pages]
    assert sum(counts) == len(flute.layout.systems) + len(flute.layout.pages) + 1


def test_a_long_rest_is_drawn_as_one_bar_with_its_number(made) -> None:
    oboe = made[1]
    (run,) = oboe.runs
    assert (run.start, len(run)) == (0, 20)
    whole, counts = shortened(oboe.document, oboe.runs)
    assert (len(whole.bars), counts[0]) == (41, 20)
    assert 'class="multiRest"' in engraved(oboe.document, oboe.runs, 180.0)[0].svg


def test_long_rests_are_put_back_bar_by_bar() -> None:
    mei = '<measure n="1"><mRest/></measure><measure n="2"><mRest xml:id="a"/></measure>'
    assert with_long_rests(mei, [1, 5]) == (
        '<measure n="1"><mRest/></measure><measure n="2"><multiRest num="5"/></measure>'
    )


def test_music_signs_in_words_become_outlines(made) -> None:
    page = engraved(made[0].document, made[0].runs, 180.0)[0].svg
    assert 'font-family="Leipzig"' in page
    picture = drawn(page, 200.0).svg
    assert 'font-family="Leipzig"' not in picture


def test_systems_spread_to_fill_the_page(made) -> None:
    page = engraved(made[0].document, made[0].runs, 180.0)[0].svg
    close = drawn(page, 0.0).height
    assert close < drawn(page, close + 20).height == pytest.approx(close + 20, abs=0.2)


def test_without_the_libraries_the_message_says_what_to_install(made, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(BadUsage, match=r"typst.*pip install .*\[pdf\]"):
        pdf_of(made[1])
