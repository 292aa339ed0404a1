"""Writing what stands before the music: titles, people, page set-up, part list."""

from __future__ import annotations

from expander import __version__
from expander.model.pitch import Written
from expander.model.score import Bracket, Credit, Header, Mark, Part, Sound
from expander.musicxml.partlist import Identifiers
from expander.musicxml.text import element, escaped, leaf, mark_text
from expander.musicxml.valuetext import checked_mark_text

_SCALING_END = "</scaling>"


def head_text(header: Header, music: list[str]) -> str:
    """Everything before the part list; `music` tells which features it makes explicit."""
    return "".join(
        [
            _work(header),
            _line(leaf("movement-number", header.movement_number)),
            _line(leaf("movement-title", header.movement_title)),
            _identification(header, music),
            _defaults(header),
            *[_credit(credit) for credit in header.credits],
        ]
    )


def _line(text: str) -> str:
    return text + "\n" if text else ""


def _work(header: Header) -> str:
    inner = leaf("work-number", header.work_number) + leaf("work-title", header.work_title)
    return f"<work>{inner}</work>\n" if inner else ""


def _identification(header: Header, music: list[str]) -> str:
    fields = [element("miscellaneous-field", (("name", n),), t) for n, t in header.miscellaneous]
    return "".join(
        [
            "<identification>\n",
            *[_typed("creator", kind, name) for kind, name in header.people],
            *[_typed("rights", kind, text) for kind, text in header.rights],
            f"<encoding><software>expander {__version__}</software>{_supports(music)}</encoding>\n",
            _line(leaf("source", header.source)),
            f"<miscellaneous>{''.join(fields)}</miscellaneous>\n" if fields else "",
            "</identification>\n",
        ]
    )


def _typed(name: str, kind: str, text: str) -> str:
    return element(name, (("type", kind),) if kind else (), text) + "\n"


_FEATURES = (
    ("accidental", "", "", "<accidental"),
    ("beam", "", "", "<beam "),
    ("stem", "", "", "<stem>"),
    ("print", "new-system", "yes", 'new-system="yes"'),
    ("print", "new-page", "yes", 'new-page="yes"'),
)
"""Features by element, attribute and its value, and the text that tells of them."""


def _supports(music: list[str]) -> str:
    """Which of the notation's features the file spells out."""
    return "".join(
        [
            _support(name, attribute, value, any(sign in text for text in music))
            for name, attribute, value, sign in _FEATURES
        ]
    )


def _support(name: str, attribute: str, value: str, present: bool) -> str:
    which = (("attribute", attribute), ("value", value)) if attribute else ()
    told = ("type", "yes" if present else "no")
    return element("supports", (told, ("element", name), *which))


def _defaults(header: Header) -> str:
    inner = header.defaults
    if header.concert_pitch:
        place = inner.find(_SCALING_END) + len(_SCALING_END) if _SCALING_END in inner else 0
        inner = f"{inner[:place]}<concert-score/>{inner[place:]}"
    return f"<defaults>{inner}</defaults>\n" if inner else ""


def _credit(credit: Credit) -> str:
    if credit.mark is not None:
        return mark_text(credit.mark) + "\n"
    inner = (
        leaf("credit-type", credit.kind) + f"<credit-words>{escaped(credit.text)}</credit-words>"
    )
    return element("credit", (("page", "1"),), inner=inner) + "\n"


# The part list ---------------------------------------------------------------------------------


class PartIds:
    """The ids under which parts and sounds are written: good, and each used once."""

    def __init__(self, parts: tuple[Part[Written], ...]) -> None:
        identifiers = Identifiers()
        self.parts = [identifiers.settle(part.id, "P") for part in parts]
        self.sounds = [
            {s.id: identifiers.settle(s.id, f"{own}-I") for s in part.sounds}
            for own, part in zip(self.parts, parts, strict=True)
        ]

    def all_sounds(self) -> frozenset[str]:
        """Every id a sound is written under."""
        return frozenset(own for sounds in self.sounds for own in sounds.values())


def part_list_text(
    parts: tuple[Part[Written], ...], brackets: tuple[Bracket, ...], ids: PartIds
) -> str:
    """The part list with its brackets."""
    numbers = _numbers(brackets)
    out = ["<part-list>\n"]
    for index, part in enumerate(parts):
        pairs = list(zip(brackets, numbers, strict=True))
        out += [_group_start(b, n) for b, n in pairs if b.first == index]
        out.append(_score_part(part, ids.parts[index], ids.sounds[index]))
        stops = [n for b, n in pairs if b.last == index]
        out += [f'<part-group type="stop" number="{n}"/>\n' for n in reversed(stops)]
    out.append("</part-list>\n")
    return "".join(out)


def _numbers(brackets: tuple[Bracket, ...]) -> list[str]:
    """A number for each bracket that no other bracket has over the same parts."""
    numbers: list[str] = []
    for index, bracket in enumerate(brackets):
        taken = {numbers[i] for i, other in enumerate(brackets[:index]) if _overlap(bracket, other)}
        wanted = [bracket.number] if bracket.number else []
        candidates = (*wanted, *(str(n) for n in range(1, len(brackets) + 2)))
        numbers.append(next(c for c in candidates if c not in taken))
    return numbers


def _overlap(one: Bracket, other: Bracket) -> bool:
    return one.first <= other.last and other.first <= one.last


def _group_start(bracket: Bracket, number: str) -> str:
    inner = "".join(
        [
            leaf("group-name", bracket.name),
            leaf("group-abbreviation", bracket.short),
            leaf("group-symbol", bracket.symbol),
            f"<group-barline>{'yes' if bracket.barlines else 'no'}</group-barline>",
        ]
    )
    return element("part-group", (("type", "start"), ("number", number)), inner=inner) + "\n"


def _score_part(part: Part[Written], own_id: str, sounds: dict[str, str]) -> str:
    carried = {m.name: m for m in part.carried}
    pairs = [(s, sounds[s.id]) for s in part.sounds]
    inner = [
        _all(part.carried, "identification"),
        _all(part.carried, "part-link"),
        element("part-name", _shown(carried, "part-name"), part.name),
        _all(part.carried, "part-name-display"),
        element("part-abbreviation", _shown(carried, "part-abbreviation"), part.short)
        if part.short
        else "",
        _all(part.carried, "part-abbreviation-display"),
        _all(part.carried, "group"),
        *[_score_instrument(sound, own) for sound, own in pairs],
        *[_midi_device(sound, own) + _midi_instrument(sound, own) for sound, own in pairs],
    ]
    return element("score-part", (("id", own_id),), inner="".join(inner)) + "\n"


def _all(marks: tuple[Mark, ...], name: str) -> str:
    return "".join([checked_mark_text(m) for m in marks if m.name == name])


def _shown(carried: dict[str, Mark], name: str) -> tuple[tuple[str, str], ...]:
    return carried[name].attributes if name in carried else ()


def _score_instrument(sound: Sound, own: str) -> str:
    inner = "".join(
        [
            f"<instrument-name>{escaped(sound.name)}</instrument-name>",
            _all(sound.carried, "instrument-abbreviation"),
            leaf("instrument-sound", sound.sound),
            _all(sound.carried, "solo") or _all(sound.carried, "ensemble"),
            _all(sound.carried, "virtual-instrument"),
        ]
    )
    return element("score-instrument", (("id", own),), inner=inner)


def _midi_device(sound: Sound, own: str) -> str:
    device = next((m for m in sound.carried if m.name == "midi-device"), None)
    if device is None:
        return ""
    return element("midi-device", (("id", own), *device.attributes), device.text)


def _midi_instrument(sound: Sound, own: str) -> str:
    inner = "".join(
        [
            _number("midi-channel", sound.channel),
            _all(sound.carried, "midi-name"),
            _all(sound.carried, "midi-bank"),
            _number("midi-program", sound.program),
            _number("midi-unpitched", sound.key),
            leaf("volume", sound.volume),
            leaf("pan", sound.pan),
            _all(sound.carried, "elevation"),
        ]
    )
    return element("midi-instrument", (("id", own),), inner=inner) if inner else ""


def _number(name: str, value: int) -> str:
    return f"<{name}>{value}</{name}>" if value else ""
