"""The sheet in the form its file name asks for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from expander import paper
from expander.errors import BadUsage
from expander.outline.picture import picture
from expander.outline.text import (
    as_text,
    facts,
    length_line,
    lyrics_as_text,
    minutes,
    stretch,
    verse_mark,
)
from expander.outline.values import Outline, Row, Section

_ROOM = "outline"
_SIZES = (9.0, 8.4, 7.8, 7.2, 6.6)
_COLUMNS = 4


def ending_of(path: Path) -> str:
    """The ending of an outline's file name. Raises BadUsage for one that is not in `FORMATS`."""
    ending = path.suffix.lower()
    if ending not in FORMATS:
        known = ", ".join(FORMATS)
        raise BadUsage(f"an outline cannot be written as '{path.name}'.", hint=f"Expected {known}.")
    return ending


def rendered(outline: Outline, ending: str, *, lyrics: bool = False) -> bytes:
    """The outline (or with `lyrics` the sheet of words) as a file with an ending of `FORMATS`.

    Raises BadUsage where a library for it is not installed.
    """
    return FORMATS[ending](outline, lyrics)


def _text(outline: Outline, lyrics: bool) -> bytes:
    return (lyrics_as_text(outline) if lyrics else as_text(outline)).encode()


def _html(outline: Outline, lyrics: bool) -> bytes:
    style = paper.page_file(_ROOM, "outline.css")
    template = "lyrics.html" if lyrics else "outline.html"
    drawn = "" if lyrics else picture(outline)
    values = {**_values(outline), "style": style, "picture": drawn}
    return paper.html(_ROOM, template, values).encode()


def _svg(outline: Outline, lyrics: bool) -> bytes:
    values = {**_sheet(outline, lyrics), "one_image": True}
    return paper.svg_pages(_ROOM, _template(lyrics), values)[0].encode()


def _pdf(outline: Outline, lyrics: bool) -> bytes:
    """In the largest letters with which it is one sheet, else in small ones on several."""
    values = {**_sheet(outline, lyrics), "one_image": False}
    for size in () if lyrics else _SIZES:
        values["size"] = size
        if len(paper.svg_pages(_ROOM, _template(lyrics), values)) == 1:
            break
    return paper.pdf(_ROOM, _template(lyrics), values)


def _template(lyrics: bool) -> str:
    return "lyrics.typ" if lyrics else "outline.typ"


def _sheet(outline: Outline, lyrics: bool) -> dict[str, Any]:
    drawn = "" if lyrics else picture(outline)
    return {**_values(outline), "picture": drawn, "size": _SIZES[0], "columns": _COLUMNS}


def _values(outline: Outline) -> dict[str, Any]:
    """What the templates fill in, all of it text."""
    return {
        "title": outline.title,
        "people": [f"{name} ({kind})" for kind, name in outline.people],
        "line_up": outline.line_up,
        "length": length_line(outline),
        "exact": outline.exact,
        "remarks": [
            {"title": r.title, "where": _where(outline, r.first, r.last), "text": r.text}
            for r in outline.remarks
        ],
        "sections": [_section(outline, section) for section in outline.sections],
        "rows": [_row(outline, row) for row in outline.rows],
    }


def _row(outline: Outline, row: Row) -> dict[str, str]:
    playing, silent = stretch(outline, row.playing), stretch(outline, row.silent)
    return {"name": row.name, "playing": playing, "silent": silent}


def _section(outline: Outline, section: Section) -> dict[str, Any]:
    word = "bar" if section.length == 1 else "bars"
    return {
        "name": section.name,
        "where": _where(outline, section.first, section.last),
        "length": f"{section.length} {word}, {minutes(section.seconds)}",
        "facts": facts(outline, section),
        "words": [
            {"where": outline.bars(w.first, w.last), "text": verse_mark(section, w) + w.text}
            for w in section.words
        ],
        "players": [
            {"title": p.title, "role": p.role.value, "who": [list(one) for one in p.who]}
            for p in section.players
        ],
    }


def _where(outline: Outline, first: int, last: int) -> str:
    word = "bar" if first == last else "bars"
    return f"{word} {outline.bars(first, last)}"


FORMATS: Mapping[str, Callable[[Outline, bool], bytes]] = {
    ".html": _html,
    ".svg": _svg,
    ".pdf": _pdf,
    ".txt": _text,
}
"""What an outline can be written as, by the ending of the file's name."""
