"""Ways of playing and mutes, from `techniques.yaml`, and finding one by any of its spellings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType

from expander.model.rules import Technique
from expander.rulefile.positions import Item, read_tree

_FILE = "techniques.yaml"
_BASIS = "common practice; element names and values of MusicXML 4.0"


@cache
def techniques() -> Mapping[str, Technique]:
    """Every technique and mute by its id, in the order of the data file.

    Mutes have `is_mute`. Words are as a part prints them; MusicXML names and values are those of
    the W3C MusicXML 4.0 schema.
    """
    text = files("expander.rulefile").joinpath(_FILE).read_text(encoding="utf-8")
    root, mistakes = read_tree(text, _FILE)
    if root is None or mistakes:
        raise ValueError(f"{_FILE} is damaged: {mistakes}")
    groups = (("techniques", False), ("mutes", True))
    return MappingProxyType(
        {
            name: _technique(name, row, is_mute)
            for group, is_mute in groups
            for name, row in root.entries()[group].entries().items()
        }
    )


def find_technique(text: str) -> Technique | None:
    """The technique or mute of that name or alias; None for an unknown one.

    Capitals, dots, hyphens and blanks make no difference.
    """
    return _spellings().get(_bare(text))


def spellings(*, mutes: bool) -> tuple[str, ...]:
    """All ids and aliases of the mutes, or of everything else, ids first."""
    chosen = [t for t in techniques().values() if t.is_mute == mutes]
    aliases = [alias for t in chosen for alias in t.aliases]
    return tuple(dict.fromkeys([*(t.id for t in chosen), *aliases]))


@cache
def _spellings() -> Mapping[str, Technique]:
    found: dict[str, Technique] = {}
    for technique in techniques().values():
        for name in (technique.id, *technique.aliases):
            found.setdefault(_bare(name), technique)
    return found


def _bare(text: str) -> str:
    return " ".join(re.split(r"[\s.\-]+", text.casefold())).strip()


def _technique(name: str, row: Item, is_mute: bool) -> Technique:
    said = {key: item.text for key, item in row.entries().items()}
    return Technique(
        id=name,
        on=said["on"],
        off=said.get("off", ""),
        families=_texts(row, "families"),
        aliases=_texts(row, "aliases"),
        sound=_pairs(row, "sound"),
        sound_off=_pairs(row, "sound off"),
        element=said.get("element", ""),
        each=said.get("each") == "yes",
        mute=said.get("mute", ""),
        is_mute=is_mute,
        meaning=said["meaning"],
        basis=_BASIS,
    )


def _texts(row: Item, key: str) -> tuple[str, ...]:
    item = row.child(key)
    return tuple(i.text for i in item.items()) if item else ()


def _pairs(row: Item, key: str) -> tuple[tuple[str, str], ...]:
    item = row.child(key)
    return tuple((name, value.text) for name, value in item.entries().items()) if item else ()
