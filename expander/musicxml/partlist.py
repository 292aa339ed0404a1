"""Reading `<part-list>`: names, sounds and brackets."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count

from msgspec import Struct, field

from expander.model.score import Bracket, Mark, Sound
from expander.musicxml.carry import Carrier
from expander.musicxml.directions import first_of_each
from expander.musicxml.grammar import fitting, kind_of_type
from expander.musicxml.tree import Element, line_of

_IDENTIFIER = re.compile(r"[^\W\d][\w.\-]*")
_SYMBOLS = frozenset({"bracket", "brace", "square", "line"})
_INSTRUMENT_CARRIED = frozenset(
    {"instrument-abbreviation", "solo", "ensemble", "virtual-instrument"}
)
_MIDI_CARRIED = frozenset({"midi-name", "midi-bank", "elevation"})
_ORDER = kind_of_type("score-part").order
_MANY = frozenset({"part-link", "group"})
_NAMES = frozenset({"part-name", "part-abbreviation"})
_PART_CARRIED = frozenset(
    {"identification", "part-link", "part-name-display", "part-abbreviation-display", "group"}
)
_READ = frozenset(
    {"part-name", "part-abbreviation", "score-instrument", "midi-instrument", "midi-device"}
)


class PartInfo(Struct):
    """What the part list tells of one part. `ids` maps the file's instrument ids to ours."""

    id: str
    given_id: str
    name: str = ""
    short: str = ""
    sounds: tuple[Sound, ...] = ()
    carried: tuple[Mark, ...] = ()
    ids: dict[str, str] = field(default_factory=dict)


class Identifiers:
    """Gives out ids that XML allows and that are used once."""

    def __init__(self) -> None:
        self._used: set[str] = set()

    def settle(self, wanted: str, prefix: str) -> str:
        """`wanted` if it is good and free, else the next free `prefix` + number."""
        if _IDENTIFIER.fullmatch(wanted) and wanted not in self._used:
            self._used.add(wanted)
            return wanted
        candidates = (f"{prefix}{number}" for number in count(1))
        free = next(c for c in candidates if c not in self._used)
        self._used.add(free)
        return free


class PartListReader:
    """Reads the part list of one file."""

    def __init__(self, carrier: Carrier) -> None:
        self.carrier = carrier
        self.identifiers = Identifiers()
        self.parts: list[PartInfo] = []
        self.brackets: list[Bracket] = []
        self._open: dict[str, tuple[int, int, Element]] = {}
        self._found: list[tuple[int, Bracket]] = []
        self._started = 0

    def read(self, el: Element | None) -> None:
        """Fills `parts` and `brackets`."""
        children = [] if el is None else [c for c in el if c.tag in ("score-part", "part-group")]
        for child in children:
            if child.tag == "score-part":
                given = child.get("id", "")
                self.parts.append(PartInfo(self.identifiers.settle(given, "P"), given))
            else:
                self._group(child)
        self._close_all()
        scores = [c for c in children if c.tag == "score-part"]
        for info, child in zip(self.parts, scores, strict=True):
            self._part(info, child)
        self.brackets = [bracket for _, bracket in sorted(self._found, key=lambda f: f[0])]

    def unlisted(self, given: str) -> PartInfo:
        """A part that the list leaves out."""
        info = PartInfo(self.identifiers.settle(given, "P"), given)
        self.parts.append(info)
        return info

    # Parts -----------------------------------------------------------------------------------

    def _part(self, info: PartInfo, el: Element) -> None:
        info.name = (el.findtext("part-name") or "").strip()
        info.short = (el.findtext("part-abbreviation") or "").strip()
        info.sounds = self._sounds(info, el)
        self.carrier.instruments.update(info.ids)
        found = list(self._carried(el))
        many = [m for m in found if m.name in _MANY]
        once = first_of_each([m for m in found if m.name not in _MANY])
        info.carried = tuple(sorted((*once, *many), key=lambda m: _ORDER[m.name]))

    def _carried(self, el: Element) -> Iterator[Mark]:
        for child in el:
            if child.tag in _NAMES:
                if child.get("print-object") == "no":
                    yield Mark("score-part", child.tag, (("print-object", "no"),))
            elif child.tag in _PART_CARRIED or child.tag not in _READ:
                mark = self.carrier.mark(child, "score-part")
                if mark is not None:
                    yield mark

    def _sounds(self, info: PartInfo, el: Element) -> tuple[Sound, ...]:
        named = {c.get("id", ""): c for c in el.iterchildren("score-instrument")}
        midi = {c.get("id", ""): c for c in el.iterchildren("midi-instrument")}
        devices = {c.get("id", ""): c for c in el.iterchildren("midi-device")}
        for given in [*named, *midi]:
            if given not in info.ids:
                info.ids[given] = self.identifiers.settle(given, f"{info.id}-I")
        whole_part = devices.pop("", None)
        if whole_part is not None:
            devices.setdefault(next(iter(info.ids), ""), whole_part)
        if any(given not in info.ids for given in devices):
            self._say("a MIDI device that belongs to no sound was left out", el)
        return tuple(
            self._sound(ours, named.get(given), midi.get(given), devices.get(given))
            for given, ours in info.ids.items()
        )

    def _sound(
        self,
        identifier: str,
        named: Element | None,
        midi: Element | None,
        device: Element | None,
    ) -> Sound:
        carried = [*self._some(named, _INSTRUMENT_CARRIED, "score-instrument")]
        carried += self._some(midi, _MIDI_CARRIED, "midi-instrument")
        if device is not None:
            carried += self._device(device)
        return Sound(
            identifier,
            _text(named, "instrument-name"),
            _text(named, "instrument-sound"),
            self._number(midi, "midi-program", "midi-128"),
            self._number(midi, "midi-channel", "midi-16"),
            self._number(midi, "midi-unpitched", "midi-128"),
            self._decimal(midi, "volume", "percent"),
            self._decimal(midi, "pan", "rotation-degrees"),
            first_of_each(_one_player_or_more(carried)),
        )

    def _device(self, el: Element) -> list[Mark]:
        port = fitting("midi-16", el.get("port", ""))
        attributes = (("port", port),) if port else ()
        text = (el.text or "").strip()
        return [Mark("score-part", "midi-device", attributes, text)] if text or attributes else []

    def _some(self, el: Element | None, tags: frozenset[str], group: str) -> Iterator[Mark]:
        for child in el if el is not None else ():
            if child.tag in tags:
                mark = self.carrier.mark(child, group)
                if mark is not None:
                    yield mark

    def _number(self, el: Element | None, tag: str, value_type: str) -> int:
        return int(self._decimal(el, tag, value_type) or 0)

    def _decimal(self, el: Element | None, tag: str, value_type: str) -> str:
        text = _text(el, tag)
        if not text:
            return ""
        fit = fitting(value_type, text)
        if fit is None:
            line = line_of(el) or 0 if el is not None else 0
            self.carrier.oddities.once(f"{tag} {text!r} is out of range and was left out", line)
        return fit or ""

    # Brackets --------------------------------------------------------------------------------

    def _group(self, el: Element) -> None:
        number = " ".join(el.get("number", "1").split())
        if el.get("type") == "start":
            if number in self._open:
                self._say(f"part group {number} starts twice", el)
                self._close(number)
            self._open[number] = (self._started, len(self.parts), el)
            self._started += 1
        elif number in self._open:
            self._close(number)
        else:
            self._say(f"part group {number} stops but never started", el)

    def _close_all(self) -> None:
        for number in list(self._open):
            self._say(f"part group {number} never stops", self._open[number][2])
            self._close(number)

    def _close(self, number: str) -> None:
        place, first, el = self._open.pop(number)
        last = len(self.parts) - 1
        if last < first:
            self._say(f"part group {number} holds no part and was left out", el)
            return
        self._tell_unheld(el)
        self._found.append((place, _bracket(el, number, first, last)))

    def _tell_unheld(self, el: Element) -> None:
        for child in el:
            if child.tag not in _BRACKET:
                self._say(f"<{child.tag}> of a part group was left out", child)

    def _say(self, message: str, el: Element) -> None:
        self.carrier.oddities.once(message, line_of(el))


_BRACKET = frozenset({"group-name", "group-abbreviation", "group-symbol", "group-barline"})


def _bracket(el: Element, number: str, first: int, last: int) -> Bracket:
    symbol = (el.findtext("group-symbol") or "").strip()
    return Bracket(
        first,
        last,
        symbol if symbol in _SYMBOLS else "",
        (el.findtext("group-barline") or "").strip() in ("yes", "Mensurstrich"),
        (el.findtext("group-name") or "").strip(),
        (el.findtext("group-abbreviation") or "").strip(),
        number,
    )


def _one_player_or_more(marks: list[Mark]) -> list[Mark]:
    """A sound is solo or an ensemble; where a file says both, solo stands."""
    solo = any(m.name == "solo" for m in marks)
    return [m for m in marks if not (solo and m.name == "ensemble")]


def _text(el: Element | None, tag: str) -> str:
    return "" if el is None else (el.findtext(tag) or "").strip()
