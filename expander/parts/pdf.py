"""A part as a PDF for the stand: engraved pages, title block, running head and page numbers.

Pages are drawn by Verovio and put together by Typst, all as vectors; nothing is read from the
disk but the libraries' own fonts, and the same part gives the same bytes.
"""

from __future__ import annotations

import json

from expander.model.score import Header
from expander.notate.page import A4, MARGIN
from expander.parts.drawing import WORDS_FONT, Drawing, drawn
from expander.parts.engraving import HANG, engraved, library
from expander.parts.layout import RIGHT
from expander.parts.make import PlayerPart
from expander.parts.paging import TITLE
from expander.parts.title import people_of, reader_of, subtitle_of, title_of

_HEAD = 10.0
"""Millimetres from the top edge to the running head."""

_OPENING = """#set document(title: {title}, author: {author}, date: none)
#set page(width: {width}mm, height: {height}mm,
  margin: (left: {left}mm, right: {margin}mm, top: {margin}mm, bottom: {bottom}mm),
  header-ascent: 0mm,
  header: context if here().page() > 1 [
    #set text(size: 9pt)
    #pad(left: {hang}mm, bottom: 3mm, grid(columns: (1fr, auto, 1fr),
      [#{name}], [#{title}], align(right)[#(here().page() + {shift})]))
  ])
#set text(font: "{font}", size: 10pt)
#set par(spacing: 0mm, leading: 1.2mm)
"""

_TITLE = """#block(height: {room}mm, width: 100%, above: 0mm, below: 0mm, inset: (left: {hang}mm))[
  #align(center)[#text(size: 20pt, weight: "bold")[#{title}]]
  #v(2mm)
  #align(center)[#text(size: 12pt)[#{subtitle}]]
  #v(1fr)
  #grid(columns: (1fr, 1fr), align: (left + bottom, right + bottom),
    [#text(size: 13pt, weight: "bold")[#{name}] #linebreak() #{words}],
    [#{people}])
  #v(5mm)
]
"""


def pdf_of(part: PlayerPart) -> bytes:
    """The part as a PDF. Raises BadUsage where the libraries for it are not installed."""
    room = A4[1] - 2 * MARGIN
    pages = engraved(part.document, part.runs, A4[0] - 2 * MARGIN)
    drawings = [
        drawn(page.svg, room - (0 if number else TITLE)) for number, page in enumerate(pages)
    ]
    source = _opening(part) + _title(part) + _pages(drawings, room)
    made: bytes = library("typst").compile(source.encode(), ignore_system_fonts=True)
    return made


def _opening(part: PlayerPart) -> str:
    header = part.document.header
    return _OPENING.format(
        title=_quoted(title_of(header) or part.name),
        author=_quoted(", ".join(people_of(header, "composer"))),
        name=_quoted(part.name),
        width=A4[0],
        height=A4[1],
        left=MARGIN - HANG,
        margin=MARGIN,
        bottom=MARGIN / 2,
        hang=HANG,
        shift=0 if part.layout.opens == RIGHT else 1,
        font=WORDS_FONT,
    )


def _title(part: PlayerPart) -> str:
    header: Header = part.document.header
    return _TITLE.format(
        room=TITLE,
        hang=HANG,
        title=_quoted(title_of(header)),
        subtitle=_quoted(subtitle_of(header)),
        name=_quoted(reader_of(header) or part.name),
        words=_quoted("; ".join(people_of(header, "lyricist", "poet"))),
        people=_quoted("\n".join(people_of(header, "composer", "arranger"))),
    )


def _pages(drawings: list[Drawing], room: float) -> str:
    pieces: list[str] = []
    for number, drawing in enumerate(drawings):
        free = room - (0 if number else TITLE)
        shrunk = min(1.0, free / drawing.height)
        width = round(drawing.width * shrunk, 3)
        pieces.append(f'#image(bytes({_quoted(drawing.svg)}), format: "svg", width: {width}mm)\n')
    return "#pagebreak()\n".join(pieces)


def _quoted(text: str) -> str:
    """Text as a Typst string."""
    escaped = json.dumps(text, ensure_ascii=False)
    return escaped.replace("\\/", "/").replace("\\b", "").replace("\\f", "")
