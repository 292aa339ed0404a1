"""Dynamics: which of them set a level that lasts, and which are accents."""

from __future__ import annotations

import re

from expander.model.score import Direction, Mark

LOUDNESS = frozenset({"dynamics", "wedge"})
"""The marks of loudness: dynamics and hairpins."""

LEVELS = ("pppppp", "ppppp", "pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff",
          "fffff", "ffffff", "n")  # fmt: skip
"""MusicXML's dynamics that hold until the next, from the softest up; `n` is niente."""

LASTING = frozenset(LEVELS)

_ENDS_AT = {"fp": "p", "pf": "f", "sfp": "p", "sfpp": "pp", "sffz": "", "rfz": ""}
"""Accents that leave another level behind."""

_TAG = re.compile(r"<([a-z]+)")


def dynamic_names(mark: Mark) -> list[str]:
    """The dynamics inside a `dynamics` mark, such as ["p"] or ["sfz"]."""
    return _TAG.findall(mark.inner)


def is_loud(direction: Direction) -> bool:
    """True for dynamics and hairpins."""
    return any([mark.name in LOUDNESS for mark in direction.marks])


def level_after(direction: Direction) -> str:
    """The level a direction leaves behind, or "" where it sets none."""
    level = ""
    for mark in direction.marks:
        if mark.name == "dynamics":
            for name in dynamic_names(mark):
                level = name if name in LASTING else _ENDS_AT.get(name, "") or level
    return level


def dynamic(level: str, at: int, staff: int = 0) -> Direction:
    """A dynamic mark below the staff."""
    mark = Mark("direction-type", "dynamics", (), "", f"<{level}/>")
    return Direction(at, (mark,), staff=staff, placement="below")
