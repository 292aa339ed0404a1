"""The title and the people of files that name them on their first page alone, as words in a place.

What stands in the middle in the largest letters is taken for the title, what stands on the right
for the composer (common practice, no source); a number or an address is neither.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from expander.model.score import Credit, Header

_LOOK = re.compile(r"<credit-words([^>]*)>")
_ATTRIBUTE = re.compile(r'([\w-]+)="([^"]*)"')
_NO_TITLE = re.compile(r"©|\(c\)|copyright|https?:|www\.|^\W*\d*\W*$", re.IGNORECASE)
_PEOPLE = ("composer", "lyricist", "poet", "arranger")


class Words(Struct, frozen=True):
    """Words of the first page: their kind (""), text, side and size in points (0 unknown)."""

    kind: str
    text: str
    side: str
    size: float


def with_names(header: Header) -> Header:
    """The header with a title and people from its first page, where it has none of its own."""
    words = list(_words(header.credits))
    if not (header.work_title or header.movement_title):
        header = replace(header, movement_title=_title(words))
    if not header.people:
        header = replace(header, people=_people(words))
    return header


def _words(page: Sequence[Credit]) -> Iterator[Words]:
    for credit in page:
        mark = credit.mark
        if mark is not None and mark.get("page", "1") != "1":
            continue
        look = _LOOK.search(mark.inner) if mark is not None else None
        said = dict(_ATTRIBUTE.findall(look[1])) if look else {}
        size = said.get("font-size", "")
        side = said.get("justify") or said.get("halign", "")
        points = float(size) if re.fullmatch(r"\d+(\.\d+)?", size) else 0.0
        yield Words(credit.kind, " ".join(credit.text.split()), side, points)


def _title(words: Sequence[Words]) -> str:
    named = [one for one in words if one.kind == "title"]
    middle = [one for one in words if not one.kind and one.side == "center"]
    titles = [one for one in named or middle if not _NO_TITLE.search(one.text)]
    return max(titles, key=lambda one: one.size).text if titles else ""


def _people(words: Sequence[Words]) -> tuple[tuple[str, str], ...]:
    named = [(one.kind, one.text) for one in words if one.kind in _PEOPLE and one.text]
    right = (one.text for one in words if not one.kind and one.side == "right")
    composers = [text for text in right if text and not re.search(r"\d", text)]
    return tuple(named or [("composer", text) for text in composers[:1]])
