"""Ways of playing and mutes, from `techniques.yaml`, and finding one by any of its spellings."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

import yaml

from expander.model.rules import Technique

Row = Mapping[str, str | list[str] | dict[str, str]]

_FILE = "techniques.yaml"
_WORDS = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
"""Everything as the words that stand there; in C where the library has it."""

_BASIS = "common practice; element names and values of MusicXML 4.0"


@cache
def techniques() -> Mapping[str, Technique]:
    """Every technique and mute by its id, in the order of the data file.

    Mutes have `is_mute`. Words are as a part prints them; MusicXML names and values are those of
    the W3C MusicXML 4.0 schema.
    """
    text = Path(__file__).with_name(_FILE).read_text(encoding="utf-8")
    groups: dict[str, dict[str, Row]] = yaml.load(text, Loader=_WORDS)
    return MappingProxyType(
        {
            name: _technique(name, row, is_mute=group == "mutes")
            for group in ("techniques", "mutes")
            for name, row in groups[group].items()
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


def _technique(name: str, row: Row, *, is_mute: bool) -> Technique:
    return Technique(
        id=name,
        on=_text(row, "on"),
        off=_text(row, "off"),
        families=tuple(row.get("families", ())),
        aliases=tuple(row.get("aliases", ())),
        sound=_pairs(row, "sound"),
        sound_off=_pairs(row, "sound off"),
        element=_text(row, "element"),
        each=row.get("each") == "yes",
        mute=_text(row, "mute"),
        is_mute=is_mute,
        meaning=_text(row, "meaning"),
        basis=_BASIS,
    )


def _text(row: Row, key: str) -> str:
    return str(row.get(key, ""))


def _pairs(row: Row, key: str) -> tuple[tuple[str, str], ...]:
    pairs = row.get(key, {})
    assert isinstance(pairs, dict)
    return tuple(pairs.items())
