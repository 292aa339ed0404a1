"""What was read before: music that stands in a file twice is read once.

Players who double have the same bars, and most notes of a file are like another. Looked up is
the text of an element as the parser has it, so that two of one text are two of one content.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import repeat

from lxml import etree
from msgspec import Struct

from expander.musicxml.raw import RawMusic, RawNote
from expander.musicxml.tree import Element

State = tuple[int, int, bool, int]
"""What a bar's reading depends on besides its text: divisions (a fraction), whether any were
given, staves of its part."""


_PLACED = b" default-x="
_PLACES = re.compile(rb' (?:default|relative)-[xy]="[-.\d]+"(?=[^<>]*>)')
_START, _END = b"<measure ", b"</measure>"


class Piece(Struct, frozen=True):
    """A bar of a part: the element with the bar's attributes, that with its music, and its text.

    The elements are one in partwise files and two in timewise files. The text is empty where it
    has to be asked for.
    """

    measure: Element
    content: Element
    text: bytes = b""


class Known:
    """The bars and notes of a file by their text."""

    def __init__(self) -> None:
        self.music: dict[tuple[object, ...], RawMusic] = {}
        self.notes: dict[bytes, RawNote] = {}


def without_places(xml: bytes) -> bytes:
    """A file without places on the page in its bars.

    They are not read in any case, and with them no note is like another. Lines stay the same.
    """
    head, bar, rest = xml.partition(_START)
    return head + bar + _PLACES.sub(b"", rest) if _PLACED in rest else xml


def text_of_bar(piece: Piece) -> bytes:
    """A bar's text, by which it is known."""
    return piece.text or _inside(etree.tostring(piece.content, with_tail=False))


def bar_texts(xml: bytes, count: int) -> Iterator[bytes]:
    """The texts of a file's so many bars in order; empty ones where it is not plain which is which.

    It is plain where there are as many start tags as end tags and bars, and no comment or the like
    in which something could look like a tag.
    """
    pieces = xml.split(_END)
    aside = max(xml.count(b"<!"), xml.count(b"<?")) > 1  # more than the two lines at the top
    if aside or not xml.count(_START) == count == len(pieces) - 1:
        return repeat(b"")
    return (_inside(piece[piece.find(_START) :]) for piece in pieces)


def _inside(text: bytes) -> bytes:
    """An element's text without its start tag, which has the number, if that has no namespaces."""
    start, _, inside = text.partition(b">")
    return text if b"xmlns" in start else inside


def names_sounds(text: bytes) -> bool:
    """Whether a text means the sounds of its part, which it does not hold itself."""
    return b"<instrument" in text


def note_texts(text: bytes, content: Element) -> Iterator[bytes]:
    """The texts of the notes in a bar's text; empty ones where it is not plain which is which.

    It is plain where there are as many start tags as end tags (no note is empty) and as many as
    notes in the bar (none is inside another).
    """
    pieces = text.split(b"</note>")
    starts = text.count(b"<note>") + text.count(b"<note ") + text.count(b"<note/>")
    inside = sum(1 for _ in content.iterchildren("note"))
    if not starts == inside == len(pieces) - 1:
        return repeat(b"")
    return (piece[piece.find(b"<note") :] for piece in pieces)
