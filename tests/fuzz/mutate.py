"""Mutations that keep the shape of scores and rule files mostly sound, so that they reach deep.

All choices come from a `Choices`, so that a random generator, Hypothesis or a coverage-guided
search can make them.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from typing import Protocol, TypeVar

from lxml import etree

T = TypeVar("T")

NUMBERS = ("0", "1", "-1", "2", "3", "7", "16", "99", "255", "4096", "999999999", "0.5", "1e9", "")
WORDS = ("", "x", "yes", "no", "start", "stop", "continue", "both", "up", "down", "C", "none", "é",
         "1a", " ", "begin", "whole", "1024th", "128th", "breve", "percussion")  # fmt: skip
ATTRIBUTES = ("type", "number", "id", "placement", "color", "print-object", "location", "slash")
SCALARS = ("1", "0", "-1", "99", "1.5", "true", "null", "~", '""', "all", "end", "1-end", "9-1",
           "tune", "strings", "violins 1", "flute 1", "drop 2", "close", "pp", "harmonics", "keep",
           "hand over", "octaves", "[a, b]", "[]", "{}", "{a: b}", "&x 1", "*x", "!!int 3", "'",
           "bucket", "symbols", "lowest", "2024-01-01", "0x1f", "1_000", "é", "🎺", "-",
           "?")  # fmt: skip


class Choices(Protocol):
    """Where choices come from."""

    def below(self, count: int) -> int:
        """A number from 0 to count - 1."""


def pick(choices: Choices, rows: Sequence[T]) -> T:
    return rows[choices.below(len(rows))]


class Randomly:
    """Choices by a seeded generator (anything with `randrange`)."""

    def __init__(self, generator) -> None:
        self._generator = generator

    def below(self, count: int) -> int:
        return self._generator.randrange(count)


# -- scores ----------------------------------------------------------------------------------------


def mutated_score(data: bytes, choices: Choices, other: bytes | None = None) -> bytes:
    """A score with one to sixteen things done to it; `other` lends bars and elements."""
    root = _root(data)
    lender = _root(other) if other else root
    for _ in range((1, 1, 2, 3, 5, 8, 16)[choices.below(7)]):
        pick(choices, MUTATIONS)(root, lender, choices)
    text = etree.tostring(root)
    return _spoilt(text, choices) if choices.below(40) == 0 else text


def _root(data: bytes):
    parser = etree.XMLParser(remove_comments=True, resolve_entities=False, no_network=True)
    return etree.fromstring(data, parser)


def _any(root, choices: Choices, *names: str):
    """Any element below the root with one of these names; any at all where none has."""
    found = list(root.iter(*names)) if names else []
    rows = found or [el for el in root.iter(etree.Element) if el is not root]
    return pick(choices, rows) if rows else root


def _remove(root, lender, choices):
    element = _any(root, choices)
    if element.getparent() is not None:
        element.getparent().remove(element)


def _double(root, lender, choices):
    element = _any(root, choices)
    parent = element.getparent()
    if parent is not None:
        parent.insert(choices.below(len(parent) + 1), copy.deepcopy(element))


def _graft(root, lender, choices):
    """An element of the other score where one of its name, or any, stands."""
    lent = copy.deepcopy(_any(lender, choices))
    place = _any(root, choices, lent.tag)
    parent = place.getparent() if place.getparent() is not None else place
    parent.insert(choices.below(len(parent) + 1), lent)


def _number(root, lender, choices):
    names = ("duration", "divisions", "octave", "alter", "voice", "staff", "beats", "beat-type",
             "fifths", "actual-notes", "normal-notes", "staves", "diatonic", "chromatic",
             "octave-change", "line", "midi-program", "ending", "tremolo")  # fmt: skip
    _any(root, choices, *names).text = pick(choices, NUMBERS)


def _word(root, lender, choices):
    _any(root, choices).text = pick(choices, WORDS)


def _attribute(root, lender, choices):
    element = _any(root, choices)
    name = pick(choices, [*ATTRIBUTES, *(a for a in element.attrib if "{" not in a)])
    if choices.below(3) == 0:
        element.attrib.pop(name, None)
    else:
        element.set(name, pick(choices, (*WORDS, *NUMBERS)))


def _rename(root, lender, choices):
    _any(root, choices).tag = _any(lender, choices).tag


def _swap(root, lender, choices):
    """Two elements of one kind change places: notes, bars, parts."""
    one = _any(root, choices, pick(choices, ("note", "measure", "part", "direction", "backup")))
    other = _any(root, choices, one.tag)
    if one is other or one.getparent() is None or other.getparent() is None:
        return
    if one in other.iterancestors() or other in one.iterancestors():
        return
    one_copy, other_copy = copy.deepcopy(one), copy.deepcopy(other)
    one.getparent().replace(one, other_copy)
    other.getparent().replace(other, one_copy)


def _spanner(root, lender, choices):
    """A tie, slur, tuplet or wedge that starts, stops or changes its number."""
    kind = pick(choices, ("slur", "tied", "tuplet", "glissando", "wavy-line", "slide"))
    note = _any(root, choices, "note")
    notations = note.find("notations")
    if notations is None:
        notations = etree.SubElement(note, "notations")
    mark = etree.SubElement(notations, kind)
    mark.set("type", pick(choices, ("start", "stop", "continue")))
    mark.set("number", pick(choices, ("1", "2", "6", "16")))


def _pile(root, lender, choices):
    """A note becomes a chord of many."""
    note = _any(root, choices, "note")
    parent = note.getparent()
    if note.tag != "note" or parent is None:
        return
    for count in range(pick(choices, (2, 5, 40))):
        head = copy.deepcopy(note)
        head.insert(0, etree.Element("chord"))
        octave = head.find("pitch/octave")
        if octave is not None:
            octave.text = str(count % 10)
        parent.insert(parent.index(note) + 1, head)


def _repeat_bars(root, lender, choices):
    bar = _any(root, choices, "measure")
    if bar.getparent() is not None:
        for _ in range(pick(choices, (1, 2, 20))):
            bar.addnext(copy.deepcopy(bar))


MUTATIONS: tuple[Callable[..., None], ...] = (
    _remove, _double, _graft, _number, _number, _word, _attribute, _rename, _swap, _spanner, _pile,
    _repeat_bars,
)  # fmt: skip


def _spoilt(data: bytes, choices: Choices) -> bytes:
    """A few bytes changed, perhaps the end cut off."""
    spoilt = bytearray(data)
    for _ in range(1 + choices.below(4)):
        spoilt[choices.below(len(spoilt))] = choices.below(256)
    return bytes(spoilt[: choices.below(len(spoilt))] if choices.below(3) == 0 else spoilt)


# -- rule files ------------------------------------------------------------------------------------


def mutated_rules(text: str, choices: Choices) -> str:
    """A rule file with one to eight things done to its lines."""
    lines = text.splitlines()
    for _ in range((1, 1, 1, 2, 3, 8)[choices.below(6)]):
        if not lines:
            break
        place = choices.below(len(lines))
        pick(choices, LINE_MUTATIONS)(lines, place, choices)
    return "\n".join(lines) + "\n"


def _drop_line(lines, place, choices):
    del lines[place]


def _double_line(lines, place, choices):
    lines.insert(choices.below(len(lines) + 1), lines[place])


def _indent(lines, place, choices):
    lines[place] = pick(choices, (" ", "  ", "\t", "-  ", "")) + lines[place].lstrip()


def _value(lines, place, choices):
    head, colon, _ = lines[place].rpartition(":")
    lines[place] = f"{head}{colon} {pick(choices, SCALARS)}"


def _inner_value(lines, place, choices):
    """A value inside braces becomes another; the rest of the line stays."""
    pieces = lines[place].replace("}", " }").split(" ")
    spots = [i for i, p in enumerate(pieces) if p and p[0].isalnum() and not p.endswith(":")]
    if spots:
        spot = pick(choices, spots)
        ending = "," if pieces[spot].endswith(",") else ""
        pieces[spot] = pick(choices, SCALARS) + ending
        lines[place] = " ".join(pieces)


def _key(lines, place, choices):
    head, colon, tail = lines[place].partition(":")
    if colon:
        lines[place] = head[: len(head) - len(head.lstrip())] + pick(choices, SCALARS) + ":" + tail


def _swap_lines(lines, place, choices):
    other = choices.below(len(lines))
    lines[place], lines[other] = lines[other], lines[place]


def _letters(lines, place, choices):
    row = list(lines[place])
    if row:
        row[choices.below(len(row))] = pick(choices, tuple("{}[]:,-#&*!|>'\"%@` \tz9\x07é"))
    lines[place] = "".join(row)


LINE_MUTATIONS = (
    _drop_line, _double_line, _indent, _value, _inner_value, _inner_value, _key, _swap_lines,
    _letters,
)  # fmt: skip
