"""Labels of shared staves: "1.", "2.", "a 2", "1. 3.", "I. Solo", "zu 2" and the like.

Labels are taken as our own scores write them and as editions have them (common practice; English,
German, French and Italian words).
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from msgspec import Struct

from expander.model.pitch import Written
from expander.model.score import Direction, Part

_ALL = frozenset({"tutti", "unis.", "unis", "unison", "unisono", "both", "alle", "tous", "beide",
                  "zusammen", "les deux", "all"})  # fmt: skip
_APART = frozenset({"div.", "div", "divisi", "geteilt", "divisés", "divises"})
_TOGETHER = re.compile(r"^(?:a|à|á|zu)\s*(\d)\.?$", re.IGNORECASE)
_ROMAN = {"I": 1, "II": 2, "III": 3, "IV": 4, "V": 5, "VI": 6}
_NUMBER = r"(?:\d{1,2}(?:\.|°|º|st\b|nd\b|rd\b|th\b)?|(?:I{1,3}|IV|VI?)(?:\.|°)?)"
_JOINT = r"\s*(?:,|&|\+|\bu\.|\bund\b|\be\b|\bet\b|\band\b|\.|-|–)?\s*"
_NAMED = re.compile(rf"^\(?({_NUMBER}(?:{_JOINT}{_NUMBER})*)(?!\w)\s*(.*?)\)?$")
_ONE = re.compile(_NUMBER)
_SOLO = re.compile(r"^(?:solo|soli)\b\.?$", re.IGNORECASE)

EVERYONE: tuple[int, ...] = ()
"""What a label that means all who share the staff names."""


class Label(Struct, frozen=True):
    """What a label says.

    `numbers` are the players named, none for all. `rest` is what else the words say, for those
    named. `lasts` tells whether the label holds for the music from here on.
    """

    numbers: tuple[int, ...] = EVERYONE
    rest: str = ""
    lasts: bool = True
    divides: bool = False


def read_label(text: str) -> Label | None:
    """The label that words are, or None for words of another kind."""
    said = " ".join(text.split())
    folded = said.lower().strip("()")
    if folded in _ALL:
        return Label()
    if folded in _APART:
        return Label(divides=True)
    together = _TOGETHER.match(folded)
    if together:
        return Label(tuple(range(-1, -1 - int(together[1]), -1)))
    if _SOLO.match(folded) and folded.startswith("solo"):
        return Label((-1,), said)
    return _by_number(said)


def _by_number(said: str) -> Label | None:
    found = _NAMED.match(said)
    if not found:
        return None
    tokens = _ONE.findall(found[1])
    rest = found[2].strip()
    bare = tokens[0].isdigit() or tokens[0] in _ROMAN
    if len(tokens) == 1 and bare and not _SOLO.match(rest):
        return None  # a bare figure is a fingering or a rehearsal number, a bare I a string
    numbers = tuple(dict.fromkeys(_value(token) for token in tokens))
    return Label(_spread(numbers, found[1]), rest, lasts=not rest or bool(_SOLO.match(rest)))


def _value(token: str) -> int:
    bare = re.sub(r"\W|st$|nd$|rd$|th$", "", token)
    return int(bare) if bare.isdigit() else _ROMAN[bare]


def _spread(numbers: tuple[int, ...], text: str) -> tuple[int, ...]:
    """`1.-3.` names those between too."""
    if len(numbers) == 2 and re.search(r"[-–]", text) and numbers[0] < numbers[1]:
        return tuple(range(numbers[0], numbers[1] + 1))
    return numbers


def places(label: Label, numbers: Sequence[int]) -> tuple[int, ...]:
    """Whom a label names on a staff shared by players with these numbers, as places from 0.

    "a 2" of two is both, "solo" the first. A number that nobody on the staff has counts from
    the top of the staff, as some scores do for the lower pair.
    """
    everyone = tuple(range(len(numbers)))
    if not label.numbers:
        return everyone
    if all(n < 0 for n in label.numbers):
        return everyone[: len(label.numbers)]
    known = [numbers.index(n) for n in label.numbers if n in numbers]
    if not known:
        known = [n - 1 for n in label.numbers if 0 < n <= len(numbers)]
    return tuple(sorted(known)) or everyone


def label_in(direction: Direction) -> Label | None:
    """The label among a direction's words."""
    for mark in direction.marks:
        if mark.name == "words":
            label = read_label(mark.text)
            if label:
                return label
    return None


def most_named(part: Part[Written]) -> int:
    """The highest number that labels on the part's staves name; "a 2" names two, 0 for none."""
    highest = 0
    for bar in part.bars:
        for direction in bar.directions:
            label = label_in(direction)
            if label and label.lasts:
                named = (max(n, -min(label.numbers)) for n in label.numbers)
                highest = max(highest, *named, 0)
    return highest
