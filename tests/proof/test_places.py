"""Each finding is marked at its note, and list and note are linked both ways."""

from __future__ import annotations

import re

import pytest

from expander.model.finding import Finding, Severity
from expander.proof.marking import RISE, SIZE, marked
from expander.proof.places import Place, Places
from tests.mini import document
from tests.proof.pieces import band_proof, findings

SCORE = document("Flute: C5+E5:q D5 r:h | F5:w\nPiano: C5:w | C5:w\n+: @bass r:q C3:q D3:h | R")


def found(part: str, beat: float | None, pitch: str = "", bar: int = 0) -> Finding:
    label = str(bar + 1)
    return Finding("x", Severity.NOTE, "x", part, label, beat, pitch, index=bar)


@pytest.mark.parametrize(
    ("finding", "place"),
    [
        (found("Flute", 1.0, "E5"), Place("n0-0-0-0-1", 0, 1)),
        (found("Flute", 1.0), Place("n0-0-0-0-0", 0, 1)),
        (found("Flute", 2.0, "D5"), Place("n0-0-0-1-0", 0, 1)),
        (found("Piano", 2.0, "C3"), Place("n1-0-1-1-0", 0, 3)),
        (found("Flute", 3.0), Place("", 0, 1)),  # a rest: the staff
        (found("Flute", None, bar=1), Place("", 1, 1)),
        (found("", None), Place("", 0, 0)),
        (found("Nobody", 1.0), Place("", 0, 0)),
        (found("sketch staff 2", 1.0), Place("", 0, 0)),
    ],
)
def test_a_finding_has_its_head_staff_or_bar(finding: Finding, place: Place) -> None:
    assert Places(SCORE).of(finding) == place


def test_a_lost_note_stands_on_its_staff_of_the_sketch_where_that_is_shown() -> None:
    assert Places(SCORE, above=2).of(found("sketch staff 2", 1.0)) == Place("", 0, 2)


def test_every_finding_has_a_sign_just_above_its_note() -> None:
    """Measured in the page: head and sign are in the same units."""
    proof = band_proof()
    assert len(findings()) >= 3
    places = Places(proof.score)
    for number, finding in enumerate(findings()):
        spot = proof.marked.spots[number]
        head = places.of(finding).head
        if head:
            page = proof.marked.pages[spot.page]
            x, y = re.search(rf'id="{head}".*?translate\((\d+), (\d+)\)', page, re.DOTALL).groups()  # type: ignore[union-attr]
            assert abs(spot.x - float(x)) < 4 * SIZE  # beside others at the page's top
            assert spot.y < float(y) <= spot.y + RISE + 10 * SIZE


def test_signs_at_one_place_do_not_cover_each_other() -> None:
    page = band_proof().marked.pages[0]
    plain = re.sub(r'<g class="signs".*', "</svg></svg>", page, flags=re.DOTALL)
    many = [found("Flute", 1.0)] * 4
    spots = marked([plain], many, [Place("n0-0-0-0-0", 0, 1)] * 4).spots
    points = [(spot.x, spot.y) for spot in spots.values()]
    gaps = [
        max(abs(a[0] - b[0]), abs(a[1] - b[1]))
        for i, a in enumerate(points)
        for b in points[i + 1 :]
    ]
    assert len(points) == 4 and min(gaps) >= 2 * SIZE
    assert all(y >= SIZE for _, y in points)


def test_a_sign_links_to_the_list_and_says_what_was_found() -> None:
    pages = "".join(band_proof().marked.pages)
    for number, finding in enumerate(findings()):
        sign = re.search(
            rf'<a id="sign-{number}" href="#finding-{number}".*?</a>', pages, re.DOTALL
        )
        assert sign and finding.severity.value in sign[0] and "<title>" in sign[0]
