"""What was read before: music that stands in a file twice is read once.

Players who double have the same bars, and most notes of a file are like another. Looked up is
the text of an element as the parser has it, so that two of one text are two of one content.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import repeat

from lxml import etree

from expander.musicxml.raw import RawMusic, RawNote
from expander.musicxml.tree import Element

State = tuple[int, int, bool, int]
"""What a bar's reading depends on besides its text: divisions (a fraction), whether any were
given, staves of its part."""


class Known:
    """The bars and notes of a file by their text.

    Where `telling` is False nothing is looked up: in files with each note's place on the page
    nothing is like anything else.
    """

    def __init__(self, telling: bool) -> None:
        self.telling = telling
        self.music: dict[tuple[object, ...], RawMusic] = {}
        self.notes: dict[bytes, RawNote] = {}

    def text(self, content: Element) -> bytes:
        """A bar's text, "" for what is not to be looked up.

        Its start tag, which has the number, is left out where it has no namespaces.
        """
        if not self.telling:
            return b""
        text = etree.tostring(content, with_tail=False)
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
