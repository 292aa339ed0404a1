"""What the models found wrong, told to a musician with the place in the file."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from expander.errors import ExpanderError, Spot
from expander.rulefile.nearest import listed, meant, nearest
from expander.rulefile.positions import Item
from expander.rulefile.shape import PASSAGES, STRANDS, PlanEntry, RuleFile
from expander.rulefile.techniques import find_technique, spellings, techniques

Loc = tuple[str | int, ...]
Said = tuple[str, str]
"""A fault and what to try."""

_KINDS: Mapping[str, type[BaseModel]] = {**PASSAGES, **STRANDS}

# Words a musician may well write for a key (common practice, no source).
_OTHER_WORDS = {
    "player": "by",
    "players": "by",
    "instrument": "by",
    "instruments": "by",
    "for": "by",
    "strand": "play",
    "material": "play",
    "technique": "as",
    "how": "as",
    "style": "as",
    "volume": "dynamic",
    "lyrics": "words",
    "text": "words",
    "transpose": "octave",
    "8va": "octave",
    "measure": "bars",
    "measures": "bars",
    "rehearsal": "mark",
    "part": "staff",
    "voice": "layer",
    "sections": "form",
    "layout": "ensemble",
    "instrumentation": "ensemble",
    "line-up": "ensemble",
    "orchestration": "plan",
}

_HOW = {
    "play": "Write one line for each strand.",
    "by": "Write a name or a list of names: [flute 1, clarinet 1].",
    "form": "Write for example: verse: {mark: A}",
    "strands": "Write for example: tune: {staff: 1}",
    "plan": "Write a section's name, a colon, and its entries below.",
}


def told(error: ErrorDetails, root: Item, file: str) -> ExpanderError:
    """One thing the models found, as a mistake at its place in the file."""
    path = _Path(error["loc"], root)
    if error["type"] == "extra_forbidden":
        fault, hint = _unknown_key(path)
        return ExpanderError(fault, at=Spot(file, *path.key_place), hint=hint)
    say = _SAID.get(error["type"], _otherwise)
    fault, hint = say(path, error.get("ctx", {}))
    return ExpanderError(fault, at=Spot(file, *path.place), hint=hint)


class _Path:
    """A validator's path followed into the tree, as far as it goes."""

    def __init__(self, loc: Loc, root: Item) -> None:
        self.kind = next((str(step) for step in loc if step in _KINDS), "")
        self.steps = tuple(step for step in loc if step not in _KINDS)
        self.item, self.parent = root, root
        self.missing = False
        for step in self.steps:
            inner = self.item.child(step)
            self.parent, self.missing = self.item, inner is None
            self.item = inner or self.item

    @property
    def name(self) -> str:
        """The key the value stands under."""
        return next((str(s) for s in reversed(self.steps) if isinstance(s, str)), "")

    @property
    def place(self) -> tuple[int, int]:
        return self.item.place

    @property
    def key_place(self) -> tuple[int, int]:
        return self.parent.keys.get(str(self.steps[-1]), self.item.place)

    @property
    def model(self) -> type[BaseModel]:
        """The model whose keys may stand here."""
        if self.kind:
            return _KINDS[self.kind]
        return PlanEntry if self.steps[0] == "plan" and len(self.steps) > 2 else RuleFile

    @property
    def group(self) -> str:
        """The part of the file: form, strands, plan or a key at the top."""
        return str(self.steps[0]) if self.steps else ""

    def shown(self) -> str:
        """The value as a message shows it."""
        if self.item.value is None:
            return "nothing"
        if isinstance(self.item.value, list):
            return "a list"
        if isinstance(self.item.value, dict):
            return "a group of names" if self.item.value else "an empty group"
        return f'"{self.item.value}"'


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _unknown_key(path: _Path) -> Said:
    key, keys = path.name, _keys(path.model)
    others = [k for kind in _siblings(path.kind) for k in _keys(kind)]
    if key in others:
        return _contradiction(path, key)
    fault = f'"{key}" is not known here; expected {listed(keys)}.'
    if path.item.value is None and path.group == "plan":
        return fault, "A list of players goes in square brackets: by: [flute 1, clarinet 1]."
    word = _OTHER_WORDS.get(key.casefold(), "")
    near = word if word in keys else nearest(key, keys)
    return fault, f'Did you mean "{near}"?' if near else ""


def _siblings(kind: str) -> Iterable[type[BaseModel]]:
    return next((kinds.values() for kinds in (PASSAGES, STRANDS) if kind in kinds), ())


def _contradiction(path: _Path, key: str) -> Said:
    first = next((k for k in _keys(path.model) if k in path.parent.entries()), "")
    fault = (
        f'"{key}" does not go with "{first}"; with it expected only {listed(_keys(path.model))}.'
    )
    if path.group == "form":
        return fault, "A section is bars, one mark, or from one mark to another."
    return fault, "A strand has one of staff, chords, under and slashes."


def _no_kind(path: _Path, _: Mapping[str, Any]) -> Said:
    name = path.name
    if path.group == "form":
        signs = ["bars", "mark", "from"]
        hint = f"Write for example {name}: {{bars: 1-8}} or {name}: {{mark: A}}."
        what = "which bars it is: expected bars, mark, or from and to"
    else:
        signs = ["staff", "chords", "under", "slashes"]
        hint = f"Write for example {name}: {{staff: 1}}."
        what = "where it comes from: expected staff, chords, under or slashes"
    keys = list(path.item.entries())
    if not keys:
        return f'"{name}" has {path.shown()} for its value instead of {what}.', hint
    near = next(filter(None, (nearest(key, signs) for key in keys)), "")
    fault = f'"{name}" has {listed(keys, last="and")} but does not say {what}.'
    return fault, f'Did you mean "{near}"?' if near else hint


def _missing(path: _Path, _: Mapping[str, Any]) -> Said:
    field = next(f for n, f in path.model.model_fields.items() if (f.alias or n) == path.name)
    return f'"{path.name}" is missing here.', f"Expected: {field.description}"


def _not_a_number(path: _Path, _: Mapping[str, Any]) -> Said:
    return f"{path.name}: {path.shown()} is not a whole number.", "Write a number, such as 1."


def _bound(words: str, key: str) -> Callable[[_Path, Mapping[str, Any]], Said]:
    def say(path: _Path, context: Mapping[str, Any]) -> Said:
        return f"{path.name}: {path.shown()} is {words}; expected {context[key]} {_END[key]}.", ""

    return say


_END = {"ge": "or more", "le": "or less"}


def _not_yes_or_no(path: _Path, _: Mapping[str, Any]) -> Said:
    return f"{path.name}: {path.shown()} is neither true nor false.", "Write true or false."


def _not_one_of(path: _Path, context: Mapping[str, Any]) -> Said:
    choices = [word.strip("'") for word in context["expected"].replace(" or ", ", ").split(", ")]
    fault = f"{path.name}: {path.shown()} is not known; expected {listed(choices, most=40)}."
    return fault, meant(path.item.text, choices)


def _not_words(path: _Path, _: Mapping[str, Any]) -> Said:
    return f"{path.name}: {path.shown()} stands where a name was expected.", _HOW.get(path.name, "")


def _not_a_list(path: _Path, _: Mapping[str, Any]) -> Said:
    if path.group == "plan" and len(path.steps) == 2:
        fault = f'{path.name}: {path.shown()} stands where entries were expected, each with "-".'
        return fault, "Write for example: - {play: tune, by: flute 1}"
    return _not_names(path, {})


def _not_names(path: _Path, _: Mapping[str, Any]) -> Said:
    fault = f"{path.name}: {path.shown()} stands where a name or a list of names was expected."
    return fault, _HOW.get(path.name, "")


def _not_a_group(path: _Path, _: Mapping[str, Any]) -> Said:
    if isinstance(path.steps[-1], int):
        fault = f"{path.shown()} stands where an entry of the plan was expected."
        return fault[0].upper() + fault[1:], "Write for example: - {play: tune, by: flute 1}"
    fault = f"{path.name}: {path.shown()} stands where names with a colon were expected."
    return fault, _HOW.get(path.name, "")


def _empty(path: _Path, _: Mapping[str, Any]) -> Said:
    return f"{path.name}: the list or name is empty.", _HOW.get(path.name, "")


def _not_bars(path: _Path, _: Mapping[str, Any]) -> Said:
    fault = f"{path.name}: {path.shown()} is not a bar or two; expected 5, 1-8 or 57-end."
    return fault, 'Use the numbers printed in the sketch; "end" is its last bar.'


def _bars_backward(path: _Path, _: Mapping[str, Any]) -> Said:
    fault = f"{path.name}: {path.shown()} runs backward; expected the first bar before the last."
    return fault, ""


def _not_a_technique(path: _Path, _: Mapping[str, Any]) -> Said:
    names = [name for name, t in techniques().items() if not t.is_mute]
    known = [*spellings(mutes=False), *spellings(mutes=True)]
    fault = f"{path.name}: {path.shown()} is no technique known here; expected {listed(names)}."
    if path.item.text.casefold().startswith("slash"):
        return fault, "Slashes are a strand of their own: time: {slashes: true}, then play: time."
    return fault, meant(path.item.text, known)


def _not_a_mute(path: _Path, _: Mapping[str, Any]) -> Said:
    text = path.item.text
    names = [name for name, t in techniques().items() if t.is_mute]
    fault = f"{path.name}: {path.shown()} is no mute known here; expected {listed(names, most=15)}."
    if find_technique(text):
        return fault, f"Write as: {text}, which is a technique."
    if text.casefold() in {"open", "none", "no", "off", "senza sord."}:
        return fault, "Leave mute out for no mute."
    return fault, meant(text, spellings(mutes=True))


def _no_slashes(path: _Path, _: Mapping[str, Any]) -> Said:
    fault = f"{path.name}: {path.shown()} makes a strand of nothing; expected true."
    return fault, "Delete the strand where no slashes are wanted."


def _otherwise(path: _Path, _: Mapping[str, Any]) -> Said:
    return f"{path.name}: {path.shown()} is not understood.", ""


_SAID: Mapping[str, Callable[[_Path, Mapping[str, Any]], Said]] = {
    "missing": _missing,
    "union_tag_not_found": _no_kind,
    "int_parsing": _not_a_number,
    "int_parsing_size": _not_a_number,
    "int_type": _not_a_number,
    "int_from_float": _not_a_number,
    "greater_than_equal": _bound("too small", "ge"),
    "less_than_equal": _bound("too large", "le"),
    "bool_parsing": _not_yes_or_no,
    "bool_type": _not_yes_or_no,
    "literal_error": _not_one_of,
    "string_type": _not_words,
    "list_type": _not_a_list,
    "dict_type": _not_a_group,
    "model_type": _not_a_group,
    "too_short": _empty,
    "string_too_short": _empty,
    "bars": _not_bars,
    "bars_backward": _bars_backward,
    "technique": _not_a_technique,
    "mute": _not_a_mute,
    "no_slashes": _no_slashes,
}
