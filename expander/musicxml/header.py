"""Reading the head of a score: titles, people, rights, credits, page set-up."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape

from expander.model.score import Credit, Header, Mark
from expander.musicxml.carry import Carrier
from expander.musicxml.firstpage import with_names
from expander.musicxml.tree import Element

_CREDIT_TYPE = re.compile("<credit-type>([^<]*)</credit-type>")
_CREDIT_WORDS = re.compile("<credit-words[^>]*>([^<]*)</credit-words>")
_PLAIN = re.compile("(<credit-type>[^<]*</credit-type>)?<credit-words>[^<]+</credit-words>")


class HeaderReader:
    """Reads what stands before the part list. How the file was encoded is not carried."""

    def __init__(self, carrier: Carrier) -> None:
        self.carrier = carrier

    def read(self, root: Element) -> Header:
        """The header of a score."""
        identification = root.find("identification")
        self.carrier.page = True
        try:
            header = Header(
                _text(root, "work/work-title"),
                _text(root, "work/work-number"),
                _text(root, "movement-title"),
                _text(root, "movement-number"),
                _typed(identification, "creator"),
                _typed(identification, "rights"),
                _text(identification, "source"),
                self._miscellaneous(root, identification),
                tuple(self._credits(root)),
                self._defaults(root.find("defaults")),
                root.find("defaults/concert-score") is not None,
            )
            return with_names(header)
        finally:
            self.carrier.page = False

    def _miscellaneous(self, root: Element, el: Element | None) -> tuple[tuple[str, str], ...]:
        """Its miscellaneous fields; relations to other works join them under `relation`."""
        if root.find("work/opus") is not None:
            self.carrier.oddities.once("the link to an opus file was left out")
        if el is None:
            return ()
        relations = [("relation", _clean(r)) for r in el.iterchildren("relation")]
        fields = [
            (f.get("name", ""), _clean(f)) for f in el.iterfind("miscellaneous/miscellaneous-field")
        ]
        return tuple(relations + fields)

    def _defaults(self, el: Element | None) -> str:
        if el is None:
            return ""
        return self.carrier.inner(el, without=frozenset({"concert-score"})) or ""

    def _credits(self, root: Element) -> Iterator[Credit]:
        for el in root.iterchildren("credit"):
            mark = self.carrier.mark(el, "score")
            if mark is not None:
                yield credit_of(mark)


def credit_of(mark: Mark) -> Credit:
    """What a credit says; its mark is kept where the words have a look or a place of their own."""
    types = [unescape(text) for text in _CREDIT_TYPE.findall(mark.inner)]
    words = [unescape(text) for text in _CREDIT_WORDS.findall(mark.inner)]
    plain = mark.get("page", "1") == "1" and _PLAIN.fullmatch(mark.inner)
    kind = next(iter(types), "").strip()
    return Credit(kind, "\n".join(words), None if plain else mark)


def _typed(el: Element | None, tag: str) -> tuple[tuple[str, str], ...]:
    found = [] if el is None else el.findall(tag)
    return tuple((" ".join(c.get("type", "").split()), _clean(c)) for c in found)


def _text(el: Element | None, path: str) -> str:
    return "" if el is None else _clean(el.find(path))


def _clean(el: Element | None) -> str:
    return "" if el is None else (el.text or "").strip()
