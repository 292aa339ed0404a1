"""Marks on an engraved page: a numbered sign at each finding's place, linked to the list.

Severities differ by shape as well as by colour: a square, a disc, a ring.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from html import escape

from msgspec import Struct

from expander.model.finding import Finding, Severity
from expander.proof.places import Place

SIZE = 280
"""Half the width of a sign, in the units of the page."""

RISE = 620
"""How far above its head a sign stands; several at one place are stacked."""

_MARGIN = re.compile(r'<g [^>]*class="page-margin"[^>]*>')
_VIEW = re.compile(r'class="definition-scale"[^>]*viewBox="0 0 ([\d.]+) ([\d.]+)"')
_TRANSLATE = re.compile(r"translate\((-?[\d.]+), (-?[\d.]+)\)")
_LINE = re.compile(r'<path d="M(-?[\d.]+) (-?[\d.]+) L')


class Spot(Struct, frozen=True):
    """A point of a page, in its own units: page index from 0."""

    page: int
    x: float
    y: float


class Marked(Struct, frozen=True):
    """Pages with signs, and the spot of each sign by the finding's number from 0."""

    pages: tuple[str, ...]
    spots: Mapping[int, Spot]


def marked(pages: Sequence[str], findings: Sequence[Finding], places: Sequence[Place]) -> Marked:
    """The pages with a sign for each finding whose place is on them."""
    spots: dict[int, Spot] = {}
    taken: dict[tuple[int, float, float], int] = {}
    homes = [_Page(index, text) for index, text in enumerate(pages)]
    for number, place in enumerate(places):
        spot = next((found for home in homes if (found := home.spot(place))), None)
        if spot:
            key = (spot.page, spot.x, spot.y)
            beside = taken.get(key, 0)
            taken[key] = beside + 1
            spots[number] = _stacked(spot, beside)
    done = tuple(_with_signs(text, i, findings, spots) for i, text in enumerate(pages))
    return Marked(done, spots)


def _stacked(spot: Spot, beside: int) -> Spot:
    """The place for one more sign there: above the others, or beside them at the page's top."""
    rise = 2.3 * SIZE
    room = max(1, int((spot.y - SIZE) // rise) + 1)
    column, row = divmod(beside, room)
    return Spot(spot.page, spot.x + rise * column, max(SIZE, spot.y) - rise * row)


class _Page:
    """A page with its bars found."""

    def __init__(self, index: int, text: str) -> None:
        self._index, self._text = index, text
        starts = [(int(m[1]), m.start()) for m in re.finditer(r'id="m(\d+)" class="measure', text)]
        stops = [start for _, start in starts[1:]] + [len(text)]
        self._bars = {bar: (s, e) for (bar, s), e in zip(starts, stops, strict=True)}

    def spot(self, place: Place) -> Spot | None:
        """The point for a place, None where it is not on this page."""
        if place.bar not in self._bars:
            return None
        start, end = self._bars[place.bar]
        return self._at_head(place.head, start, end) or self._at_staff(place.staff, start, end)

    def _at_head(self, head: str, start: int, end: int) -> Spot | None:
        here = self._text.find(f'id="{head}"', start, end) if head else -1
        found = _TRANSLATE.search(self._text, here, end) if here >= 0 else None
        return Spot(self._index, float(found[1]) + 130, float(found[2]) - RISE) if found else None

    def _at_staff(self, staff: int, start: int, end: int) -> Spot | None:
        here = self._text.find(f'data-n="{staff}"', start, end) if staff else -1
        found = _LINE.search(self._text, here if here >= 0 else start, end)
        return Spot(self._index, float(found[1]) + 900, float(found[2]) - RISE) if found else None


def _with_signs(
    page: str, index: int, findings: Sequence[Finding], spots: Mapping[int, Spot]
) -> str:
    signs = [sign(n, findings[n], spot) for n, spot in spots.items() if spot.page == index]
    opening = _MARGIN.search(page)
    if not signs or not opening:
        return page
    close = page.index("</svg>", page.rindex("</g>"))
    moved = _TRANSLATE.search(opening[0])
    move = f' transform="{moved[0]}"' if moved else ""
    return f'{page[:close]}<g class="signs"{move}>{"".join(signs)}</g>{page[close:]}'


_SHAPES = {
    Severity.ERROR: '<rect x="-{s}" y="-{s}" width="{d}" height="{d}"/>',
    Severity.WARNING: '<circle r="{s}"/>',
    Severity.NOTE: '<circle r="{s}"/>',
}


def sign(number: int, finding: Finding, spot: Spot) -> str:
    """One sign: a link to the finding in the list, and a line down to its note."""
    shape = _SHAPES[finding.severity].format(s=SIZE, d=2 * SIZE)
    told = escape(f"{number + 1}, {finding.severity.value}, {finding.part}: {finding.message}")
    return (
        f'<a id="sign-{number}" href="#finding-{number}" class="sign {finding.severity.value}" '
        f'data-check="{escape(finding.check)}" aria-label="{told}" '
        f'transform="translate({spot.x:g}, {spot.y:g})"><title>{told}</title>'
        f'<path class="stalk" d="M0 {SIZE} V{RISE - 130}"/>{shape}'
        f'<text text-anchor="middle" y="130" font-size="360px">{number + 1}</text></a>'
    )


def page_size(page: str) -> tuple[float, float]:
    """Width and height of a page in its own units."""
    found = _VIEW.search(page)
    return (float(found[1]), float(found[2])) if found else (1.0, 1.0)


def margin(page: str) -> tuple[float, float]:
    """How far the page's content is moved from its corner."""
    opening = _MARGIN.search(page)
    moved = _TRANSLATE.search(opening[0]) if opening else None
    return (float(moved[1]), float(moved[2])) if moved else (0.0, 0.0)
