"""What has to agree within a rule file: names used and names given.

Works on the tree, not on the models, so that it also finds its mistakes in a file that the models
refuse.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from expander.errors import ExpanderError, Spot
from expander.rulefile.nearest import listed, meant, nearest
from expander.rulefile.positions import Item, Place
from expander.rulefile.techniques import find_technique

EVERYWHERE = "all"
_SUPPORTS = ("under", "rhythm", "kicks")
_GROUPS = ("form", "strands", "plan", "keyless")
_NOTHING = Item(None, (0, 0))

Found = tuple[Place, str, str]
"""Place, fault and hint."""


def disagreements(root: Item, file: str) -> list[ExpanderError]:
    """Every name that stands for nothing, stands for two things or goes round in a circle."""
    return [
        ExpanderError(fault, at=Spot(file, *place), hint=hint)
        for check in _CHECKS
        for place, fault, hint in check(root)
    ]


def _group(root: Item, name: str) -> Item:
    """What stands under a key at the top, or under a key that was meant to be it.

    One slip ("strand:") should not make a mistake of every name below.
    """
    slips = (key for key in root.entries() if key not in _GROUPS and nearest(key, _GROUPS) == name)
    return root.child(name) or root.child(next(slips, name)) or _NOTHING


def _usable(item: Item) -> bool:
    """False where something else than a group stands, which is a mistake of its own."""
    return item.value is None or isinstance(item.value, dict)


def _entries(root: Item) -> Iterator[Item]:
    for section in _group(root, "plan").entries().values():
        yield from section.items()


def _unknown_strands(root: Item) -> Iterator[Found]:
    strands = _group(root, "strands")
    known = list(strands.entries())
    for entry in _entries(root) if _usable(strands) else ():
        played = entry.child("play") or _NOTHING
        if played.text and played.text not in known:
            yield played.place, *_no_such_strand("play", played.text, known)


def _unknown_supports(root: Item) -> Iterator[Found]:
    strands = _group(root, "strands").entries()
    for strand in strands.values():
        for key in _SUPPORTS:
            named = strand.child(key) or _NOTHING
            if named.text and named.text not in strands:
                yield named.place, *_no_such_strand(key, named.text, list(strands))


def _no_such_strand(key: str, name: str, known: list[str]) -> tuple[str, str]:
    if not known:
        fault = f'{key}: "{name}" is not a strand; the file names none.'
        return fault, f"Name it under strands: {name}: {{staff: 1}}."
    return f'{key}: "{name}" is not a strand; expected {listed(known)}.', meant(name, known)


def _unknown_sections(root: Item) -> Iterator[Found]:
    form = list(_group(root, "form").entries())
    plan = _group(root, "plan")
    for section in plan.entries() if form else ():
        if section != EVERYWHERE and section not in form:
            known = list(dict.fromkeys([EVERYWHERE, *form]))
            fault = f'"{section}" is not a section of the form; expected {listed(known)}.'
            yield plan.keys[section], fault, meant(section, known)


def _reserved(root: Item) -> Iterator[Found]:
    form = _group(root, "form")
    if EVERYWHERE in form.entries():
        fault = f'"{EVERYWHERE}" stands for the whole piece and cannot name a section.'
        yield form.keys[EVERYWHERE], fault, "Give the section another name."


def _nameless(root: Item) -> Iterator[Found]:
    for group in ("form", "strands", "plan"):
        item = _group(root, group)
        if "" in item.entries():
            yield item.keys[""], f"A name is missing before the colon in {group}.", ""


def _circles(root: Item) -> Iterator[Found]:
    strands = _group(root, "strands").entries()
    seen: set[str] = set()
    for name in strands:
        circle = _circle(name, strands)
        if circle and not seen & set(circle):
            seen |= set(circle)
            key = _support_key(strands[name])
            item = strands[name].child(key) or _NOTHING
            round_ = " -> ".join([*circle, circle[0]])
            fault = f'{key}: "{item.text}" goes round in a circle: {round_}.'
            yield item.place, fault, "One of them has to come from the sketch."


def _circle(start: str, strands: Mapping[str, Item]) -> list[str]:
    """The strands from `start` back to it; nothing where the way ends or turns elsewhere."""
    path = [start]
    while (after := _support(path[-1], strands)) not in path:
        if after not in strands:
            return []
        path.append(after)
    return path if after == start else []


def _support(name: str, strands: Mapping[str, Item]) -> str:
    strand = strands[name]
    return (strand.child(_support_key(strand)) or _NOTHING).text


def _support_key(strand: Item) -> str:
    return next((key for key in _SUPPORTS if strand.child(key)), "rhythm")


def _named_twice(root: Item) -> Iterator[Found]:
    lists = [entry.child("by") or _NOTHING for entry in _entries(root)]
    for players in [*lists, _group(root, "keyless")]:
        seen: set[str] = set()
        for player in players.items():
            if player.text and player.text in seen:
                yield player.place, f'"{player.text}" stands twice in this list.', "Delete one."
            seen.add(player.text)


def _two_mutes(root: Item) -> Iterator[Found]:
    for entry in _entries(root):
        played, mute = entry.child("as") or _NOTHING, entry.child("mute") or _NOTHING
        technique = find_technique(played.text)
        if technique and technique.is_mute and mute.text:
            fault = f'as: "{played.text}" is a mute too, beside mute: "{mute.text}".'
            yield played.place, fault, "Keep one of them."


def _figure_without_bars(root: Item) -> Iterator[Found]:
    for name, strand in _group(root, "strands").entries().items():
        repeat = strand.child("repeat") or _NOTHING
        if repeat.text.casefold() in {"true", "yes", "on"} and strand.child("bars") is None:
            fault = f'"{name}" is to be repeated but does not say which bars; expected bars.'
            yield repeat.place, fault, "Write for example bars: 9-10."


_CHECKS: tuple[Callable[[Item], Iterator[Found]], ...] = (
    _nameless,
    _reserved,
    _unknown_strands,
    _unknown_supports,
    _unknown_sections,
    _circles,
    _named_twice,
    _two_mutes,
    _figure_without_bars,
)
