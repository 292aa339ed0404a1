"""The head of a part: titles and people of the score, the reader's instrument, the page."""

from __future__ import annotations

from html import escape

from msgspec.structs import replace

from expander.model.score import Credit, Header, Mark
from expander.notate.page import A4, MARGIN, defaults, page_for

PAGE = page_for(1)
"""A part's page: upright A4, a 7 mm staff."""

_SIZES = {"title": 20, "subtitle": 13, "part name": 13}
_ORDINARY_SIZE = 10
_LINE = 6.0


def part_header(header: Header, name: str, also: str = "") -> Header:
    """The header of a part: as the score's, with a title block for its first page.

    Where there is a title, it stands in the middle, the instrument on the left, the people who
    made the music on the right. `also` names the reader's other instruments.
    """
    return replace(
        header,
        defaults=defaults(PAGE),
        credits=tuple(_block(header, f"{name} ({also})" if also else name)),
        concert_pitch=False,
    )


def title_of(header: Header) -> str:
    """The title that stands over the music."""
    return header.work_title or header.movement_title


def reader_of(header: Header) -> str:
    """The reader and their other instruments, as the title block of a part names them."""
    return next((credit.text for credit in header.credits if credit.kind == "part name"), "")


def subtitle_of(header: Header) -> str:
    """The second line: the score's own, else the movement of the work."""
    own = next((c.text for c in header.credits if c.kind == "subtitle" and c.text), "")
    movement = header.movement_title if header.work_title else ""
    return own or (movement if movement != header.work_title else "")


def people_of(header: Header, *kinds: str) -> list[str]:
    """The names of people of these kinds, as the title block shows them."""
    said = {"arranger": "arr. {}", "lyricist": "words: {}", "poet": "words: {}"}
    return [
        said.get(kind, "{}").format(name)
        for wanted in kinds
        for kind, name in header.people
        if kind == wanted
    ]


def _block(header: Header, name: str) -> list[Credit]:
    height = A4[1] - MARGIN
    rows: list[tuple[str, str, str, float]] = []
    if title_of(header):
        rows.append(("title", title_of(header), "center", height - 4))
    if subtitle_of(header):
        rows.append(("subtitle", subtitle_of(header), "center", height - 13))
    rows.append(("part name", name, "left", height - 22))
    made = [("composer", t) for t in people_of(header, "composer")]
    made += [("arranger", t) for t in people_of(header, "arranger")]
    rows += [(k, t, "right", height - 22 - _LINE * i) for i, (k, t) in enumerate(made)]
    words = people_of(header, "lyricist", "poet")
    rows += [("lyricist", t, "left", height - 28 - _LINE * i) for i, t in enumerate(words)]
    return [_credit(*row) for row in rows]


def _credit(kind: str, text: str, side: str, y: float) -> Credit:
    across = {"left": MARGIN, "center": A4[0] / 2, "right": A4[0] - MARGIN}[side]
    inner = (
        f"<credit-type>{kind}</credit-type>"
        f'<credit-words default-x="{PAGE.tenths(across)}" default-y="{PAGE.tenths(y)}" '
        f'justify="{side}" valign="top" halign="{side}" '
        f'font-size="{_SIZES.get(kind, _ORDINARY_SIZE)}">{escape(text, quote=False)}</credit-words>'
    )
    return Credit(kind, text, Mark("score", "credit", (("page", "1"),), inner=inner))
