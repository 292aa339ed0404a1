"""Reading `<direction>` and `<harmony>`."""

from __future__ import annotations

import re
from functools import lru_cache
from html import unescape

from lxml import etree
from msgspec.structs import replace

from expander.model.pitch import LETTERS, Written
from expander.model.score import Attributes, Degree, Direction, Harmony, Mark
from expander.musicxml.carry import Carrier, settled
from expander.musicxml.clock import exact
from expander.musicxml.grammar import kind_of_type, listed
from expander.musicxml.text import quoted
from expander.musicxml.tree import Element, line_of, text_of

_OFFSET = frozenset({"offset"})
_PLACED = frozenset({"offset", "staff"})
_PLACING = frozenset({"voice", "staff"})
_TOLD = frozenset({"offset", "voice", "staff", "sound", "direction-type"})
_CHORD = frozenset({"root", "numeral", "function"})
_HARMONY = kind_of_type("harmony")
_LEVEL = re.compile(r"<([a-z-]+)(?:[^>]*/>|[^>]*>([^<]*)</[a-z-]+>)")
_XLINK = ' xmlns:xlink="http://www.w3.org/1999/xlink"'
_DEGREES = frozenset({"add", "alter", "subtract"})


class DirectionReader:
    """Reads directions and chord symbols of one file."""

    def __init__(self, carrier: Carrier) -> None:
        self.carrier = carrier

    def direction(self, el: Element, at: int) -> Direction:
        """A direction; one with nothing usable in it has no marks and no sound."""
        attributes = self.carrier.attributes(el) or ()
        children = [(c.tag, c) for c in el]
        texts = {tag: c.text or "" for tag, c in children if tag in _PLACING}
        sounds = [sound_mark(self.carrier, c, "direction") for tag, c in children if tag == "sound"]
        carried = [self.carrier.mark(c, "direction") for tag, c in children if tag not in _TOLD]
        return Direction(
            at,
            tuple([m for tag, c in children if tag == "direction-type" for m in self._marks(c)]),
            staff_number(texts.get("staff")),
            texts.get("voice", "").strip(),
            dict(attributes).get("placement", ""),
            tuple([a for a in attributes if a[0] != "placement"]),
            next(iter(sounds), None),
            first_of_each([c for c in carried if c is not None]),
        )

    def _marks(self, el: Element) -> list[Mark]:
        marks = []
        for child in el:
            mark = self.carrier.mark(child, "direction-type") or _as_words(child)
            if mark is not None:
                marks.append(named_dynamics(mark))
        return marks

    def harmonies(self, el: Element, at: int) -> list[Harmony[Written]]:
        """A chord symbol for each root in the element."""
        attributes = self.carrier.attributes(el) or ()
        found = []
        for children in _chords(el):
            harmony = self._harmony(children, at, staff_of(el), attributes)
            if harmony is not None:
                found.append(harmony)
        if not found:
            self._say("a chord symbol without root and kind was left out", el)
        return found

    def _harmony(
        self,
        children: list[Element],
        at: int,
        staff: int,
        attributes: Attributes,
    ) -> Harmony[Written] | None:
        texts = [(c.tag, self._chord_part(c)) for c in children]
        chosen = settled(_HARMONY, [(tag, text) for tag, text in texts if text is not None])
        if not chosen:
            return None
        inner = "".join([text for _, text in chosen])
        return harmony_of(Mark("measure", "harmony", attributes, inner=inner), at, staff)

    def _chord_part(self, el: Element) -> str | None:
        """A child of a chord symbol as XML; a kind that MusicXML lacks is kept as its text."""
        text = self.carrier.xml(el)
        said = " ".join((el.text or "").split())
        if text is None or el.tag != "kind" or said in listed("kind-value") or "text" in el.attrib:
            return text
        return text.replace("<kind", f'<kind text="{quoted(said)}"', 1) if said else text

    def _say(self, message: str, el: Element) -> None:
        self.carrier.oddities.once(message, line_of(el))


def chord_elements(mark: Mark) -> Element:
    """A chord symbol's mark as elements again."""
    return etree.fromstring(f"<harmony{_XLINK}>{mark.inner}</harmony>")


def harmony_of(mark: Mark, at: int, staff: int) -> Harmony[Written]:
    """The chord symbol that a mark holds, by its musical content."""
    return replace(_content(mark), at=at, staff=staff)


@lru_cache(maxsize=4096)
def _content(mark: Mark) -> Harmony[Written]:
    el = chord_elements(mark)
    kind = el.find("kind")
    said = (el.findtext("kind") or "").strip()
    degrees = [_degree(c) for c in el.iterchildren("degree")]
    return Harmony(
        0,
        None if said == "none" else _name(el.find("root"), "root"),
        said,
        "" if kind is None else kind.get("text", ""),
        _inversion(el.find("inversion")),
        _name(el.find("bass"), "bass"),
        tuple(d for d in degrees if d is not None),
        0,
        mark,
    )


def sound_mark(carrier: Carrier, el: Element, group: str) -> Mark | None:
    """A `<sound>` element; its own divisions and offset mean nothing on our grid."""
    attributes, inner = carrier.attributes(el), carrier.inner(el, without=_OFFSET)
    kept = tuple(a for a in attributes or () if a[0] != "divisions")
    return Mark(group, "sound", kept, inner=inner or "") if kept or inner else None


def named_dynamics(mark: Mark) -> Mark:
    """Dynamics with their level as `text` too, so that stages need not look inside."""
    if mark.name != "dynamics" or not mark.inner:
        return mark
    levels = [other or name for name, other in _LEVEL.findall(mark.inner)]
    return Mark(mark.group, mark.name, mark.attributes, unescape("".join(levels)), mark.inner)


def first_of_each(marks: list[Mark]) -> tuple[Mark, ...]:
    """The first mark of each name, for elements that may stand but once."""
    return tuple({m.name: m for m in reversed(marks)}.values())[::-1]


def staff_of(el: Element) -> int:
    """The staff an element names, 0 where it names none."""
    return staff_number(el.findtext("staff"))


def staff_number(text: str | None) -> int:
    """A staff's number, 0 where the text is none."""
    trimmed = (text or "").strip()
    return int(trimmed) if trimmed.isascii() and trimmed.isdigit() and len(trimmed) < 9 else 0


def _as_words(el: Element) -> Mark | None:
    """What a direction that cannot be kept as it is would have shown in letters."""
    shown = text_of(el)
    return Mark("direction-type", "words", text=shown) if shown else None


def _chords(el: Element) -> list[list[Element]]:
    """The element's children by chord; what follows the chords stays with the last."""
    chords: list[list[Element]] = []
    for child in el:
        if child.tag in _PLACED:
            continue
        if child.tag in _CHORD:
            chords.append([child])
        elif chords:
            chords[-1].append(child)
    return chords


def _name(el: Element | None, prefix: str) -> tuple[int, int] | None:
    """A chord's root or bass as (step, alter)."""
    if el is None:
        return None
    letter = (el.findtext(f"{prefix}-step") or "").strip().upper()
    alter = exact(el.findtext(f"{prefix}-alter"))
    if len(letter) != 1 or letter not in LETTERS:
        return None
    return LETTERS.index(letter), round(alter or 0)


def _degree(el: Element) -> Degree | None:
    value, alter = exact(el.findtext("degree-value")), exact(el.findtext("degree-alter"))
    kind = (el.findtext("degree-type") or "").strip()
    if value is None or kind not in _DEGREES:
        return None
    return Degree(int(value), round(alter or 0), kind)


def _inversion(el: Element | None) -> int:
    number = None if el is None else exact(el.text)
    return int(number) if number is not None and number >= 0 else 0
