"""Reading `<attributes>`: keys, metres, clefs, transpositions and what else changes on a staff.

What an element holds beyond its value (a cancelling key, a hidden clef) follows the change as a
mark of the element's own name; see `companion`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from msgspec.structs import replace

from expander.model.pitch import SEMITONES, Transposition
from expander.model.score import Change, Clef, Key, Mark, P, PartBar, Time
from expander.musicxml.carry import Carrier
from expander.musicxml.clock import exact, nominal_quarters
from expander.musicxml.grammar import kind_of_type, listed
from expander.musicxml.tree import Element, line_of

What = Clef | Key | Time | Transposition
RANKS: dict[str, int] = kind_of_type("attributes").order
"""The order in which the schema wants the children of `<attributes>`."""

NAMES: dict[type, str] = {Key: "key", Time: "time", Clef: "clef", Transposition: "transpose"}
_NOT_CARRIED = frozenset({"divisions", "staves"})


def rank(change: Change) -> int:
    """Where in `<attributes>` a change stands."""
    what = change.what
    return RANKS.get(what.name if isinstance(what, Mark) else NAMES[type(what)], 0)


class AttributesReader:
    """Reads the changes in one `<attributes>` element."""

    def __init__(self, carrier: Carrier) -> None:
        self.carrier = carrier

    def changes(self, el: Element, at: int) -> Iterator[Change]:
        """All changes in it, those of one element together."""
        for child in el:
            if child.tag in _NOT_CARRIED:
                continue
            staff = self._staff(child)
            for what in self._read(child):
                yield Change(at, what, staff)

    def _staff(self, el: Element) -> int:
        said = el.get("number")
        number = exact(said)
        if said is None:
            return 0
        if number is None or number < 1 or number.denominator != 1:
            self._say(f"<{el.tag}> for staff {said!r} was read as for all staves", el)
            return 0
        return int(number)

    def _read(self, el: Element) -> list[What | Mark]:
        reader = _READERS.get(el.tag)
        if reader is None:
            mark = self.carrier.mark(el, "attributes")
            return [] if mark is None else [mark.having(number=None)]
        what = reader(self, el)
        if what is None:
            return []
        return [what, *self._companion(el)]

    def _companion(self, el: Element) -> list[Mark]:
        """What else the element holds, as a mark of its name."""
        attributes = self.carrier.attributes(el) or ()
        rest = tuple(a for a in attributes if a[0] not in ("number", "symbol"))
        inner = "".join(self._besides(el))
        return [Mark("attributes", el.tag, rest, inner=inner)] if rest or inner else []

    def _besides(self, el: Element) -> Iterator[str]:
        """What stands in it besides its value: one of each kind, octaves as many as there are."""
        seen = {"cancel"} if el.find("key-step") is not None else set()
        for child in sorted(el, key=lambda c: _BESIDES.get(c.tag, 0)):
            text = self.carrier.xml(child) if child.tag in _BESIDES else None
            if text is not None and (child.tag not in seen or child.tag == "key-octave"):
                seen.add(child.tag)
                yield text

    def _key(self, el: Element) -> Key | None:
        if el.find("key-step") is not None:
            own = self.carrier.inner(el, without=frozenset(_BESIDES))
            return Key(own=own) if own else None
        fifths = exact(el.findtext("fifths"))
        if fifths is None and len(el):
            self._say("a key without readable fifths was left out", el)
            return None
        return Key(int(fifths or 0), (el.findtext("mode") or "").strip())

    def _time(self, el: Element) -> Time | None:
        if el.find("senza-misura") is not None:
            return Time(())
        beats = [(c.text or "").strip() for c in el.iterchildren("beats")]
        units = [(c.text or "").strip() for c in el.iterchildren("beat-type")]
        symbol = el.get("symbol", "")
        time = Time(
            tuple(zip(beats, units, strict=False)),
            symbol if symbol in listed("time-symbol") else "",
        )
        if not time.beats or nominal_quarters(time) is None:
            self._say(f"a time signature of {beats} over {units} is not a metre", el)
        return time if time.beats else None

    def _clef(self, el: Element) -> Clef | None:
        sign = (el.findtext("sign") or "").strip()
        if sign not in listed("clef-sign"):
            self._say(f"clef sign {sign!r} is not one of MusicXML's and was left out", el)
            return None
        return Clef(sign, _whole(el, "line"), _whole(el, "clef-octave-change"))

    def _transpose(self, el: Element) -> Transposition:
        chromatic = exact(el.findtext("chromatic"))
        if chromatic is None or chromatic.denominator != 1:
            self._say("a transposition is not in whole semitones and was rounded", el)
        semitones = round(chromatic or 0)
        diatonic = exact(el.findtext("diatonic"))
        steps = diatonic_for(semitones) if diatonic is None else round(diatonic)
        if abs(semitones - _plain_semitones(steps)) > FURTHEST:
            self._say(f"a transposition of {steps} steps and {semitones} semitones is none; "
                      "the semitones were taken", el)  # fmt: skip
            steps = diatonic_for(semitones)
        return Transposition(steps, semitones, _whole(el, "octave-change"), _double(el))

    def _say(self, message: str, el: Element) -> None:
        self.carrier.oddities.once(message, line_of(el))


_READERS: dict[str, Callable[[AttributesReader, Element], What | None]] = {
    "key": AttributesReader._key,
    "time": AttributesReader._time,
    "clef": AttributesReader._clef,
    "transpose": AttributesReader._transpose,
}
FURTHEST = 3
"""Semitones by which an interval may differ from its letters' plain one."""
_BESIDES = {"cancel": 1, "key-octave": 2, "interchangeable": 3}


def _plain_semitones(steps: int) -> int:
    """Semitones of so many letter steps up from C."""
    octaves, step = divmod(steps, 7)
    return 12 * octaves + SEMITONES[step]


def diatonic_for(semitones: int) -> int:
    """Letter steps of the plainest interval of so many semitones (a tritone: a fourth)."""
    octaves, within = divmod(abs(semitones), 12)
    step = max(i for i, s in enumerate(SEMITONES) if s <= within + (within in (1, 3, 8, 10)))
    steps = 7 * octaves + step
    return steps if semitones >= 0 else -steps


def with_numbered_clefs(bar: PartBar[P]) -> PartBar[P]:
    """A bar of a part with several staves, where a clef that names none is the first one's.

    Keys, metres and transpositions that name none are for all (MusicXML 4.0, clef and key).
    """
    if not any([c.staff == 0 and _is_clef(c.what) for c in bar.changes]):
        return bar
    changes = [replace(c, staff=1) if _is_clef(c.what) and not c.staff else c for c in bar.changes]
    return replace(bar, changes=tuple(changes))


def _is_clef(what: What | Mark) -> bool:
    return isinstance(what, Clef) or (isinstance(what, Mark) and what.name == "clef")


def _whole(el: Element, tag: str) -> int:
    number = exact(el.findtext(tag))
    return int(number) if number is not None else 0


def _double(el: Element) -> str:
    double = el.find("double")
    if double is None:
        return ""
    return "above" if double.get("above") == "yes" else "below"
