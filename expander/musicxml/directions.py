"""Reading `<direction>` and `<harmony>`."""

from __future__ import annotations

from expander.model.pitch import LETTERS, Written
from expander.model.score import Degree, Direction, Harmony, Mark
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import exact
from expander.musicxml.grammar import kind_of_type, listed
from expander.musicxml.tree import Element, line_of, text_of

_OFFSET = frozenset({"offset"})
_PLACED = frozenset({"offset", "staff"})
_PLACING = frozenset({"voice", "staff"})
_TOLD = frozenset({"offset", "voice", "staff", "sound", "direction-type"})
_CHORD = frozenset({"root", "numeral", "function"})
_ORDER = kind_of_type("harmony").order
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
            tuple([c for c in carried if c is not None]),
        )

    def _marks(self, el: Element) -> list[Mark]:
        marks = []
        for child in el:
            mark = self.carrier.mark(child, "direction-type") or _as_words(child)
            if mark is not None:
                marks.append(named_dynamics(mark, child))
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
        attributes: tuple[tuple[str, str], ...],
    ) -> Harmony[Written] | None:
        _mend_kind(children, self.carrier)
        _mend_degrees(children)
        children = sorted(children, key=lambda c: _ORDER.get(c.tag, 0))
        texts = [(c, self.carrier.xml(c)) for c in children]
        kept = [c for c, text in texts if text is not None]
        if len(kept) < 2 or kept[0].tag not in _CHORD or kept[1].tag != "kind":
            return None
        inner = "".join([text for _, text in texts if text is not None])
        return harmony_of(kept, at, staff, Mark("measure", "harmony", attributes, inner=inner))

    def _say(self, message: str, el: Element) -> None:
        self.carrier.oddities.once(message, line_of(el))


def harmony_of(children: list[Element], at: int, staff: int, mark: Mark) -> Harmony[Written]:
    """The musical content of one chord symbol's elements."""
    by_tag = {c.tag: c for c in children}
    kind = by_tag["kind"]
    said = (kind.text or "").strip()
    root = None if said == "none" else _name(by_tag.get("root"), "root")
    degrees = [_degree(c) for c in children if c.tag == "degree"]
    return Harmony(
        at,
        root,
        said,
        kind.get("text", ""),
        _inversion(by_tag.get("inversion")),
        _name(by_tag.get("bass"), "bass"),
        tuple(d for d in degrees if d is not None),
        staff,
        mark,
    )


def sound_mark(carrier: Carrier, el: Element, group: str) -> Mark | None:
    """A `<sound>` element; its own divisions and offset mean nothing on our grid."""
    attributes, inner = carrier.attributes(el), carrier.inner(el, without=_OFFSET)
    kept = tuple(a for a in attributes or () if a[0] != "divisions")
    return Mark(group, "sound", kept, inner=inner or "") if kept or inner else None


def named_dynamics(mark: Mark, el: Element) -> Mark:
    """Dynamics with their level as `text` too, so that stages need not look inside."""
    if mark.name != "dynamics":
        return mark
    names = [c.text or "" if c.tag == "other-dynamics" else c.tag for c in el]
    return Mark(mark.group, mark.name, mark.attributes, "".join(names), mark.inner)


def staff_of(el: Element) -> int:
    """The staff an element names, 0 where it names none."""
    return staff_number(el.findtext("staff"))


def staff_number(text: str | None) -> int:
    """A staff's number, 0 where the text is none."""
    number = exact(text)
    return int(number) if number is not None and number >= 1 else 0


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


def _mend_kind(children: list[Element], carrier: Carrier) -> None:
    for el in children:
        said = (el.text or "").strip()
        if el.tag != "kind" or said in listed("kind-value"):
            continue
        carrier.oddities.once(f"chord kind {said!r} is not one of MusicXML's", line_of(el))
        el.text = "other" if said or el.get("text") else "none"
        if said and not el.get("text"):
            el.set("text", said)


def _mend_degrees(children: list[Element]) -> None:
    """A degree without an alteration has none."""
    for el in children:
        alter = el.find("degree-alter") if el.tag == "degree" else None
        if alter is not None and exact(alter.text) is None:
            alter.text = "0"


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
