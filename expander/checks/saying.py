"""What words on a stave do to the player: pizzicato, mutes, sticks, who plays, divisi."""

from __future__ import annotations

import re
from functools import lru_cache

from expander.checks.figures import figures

_CUT = r"[,;/+]| - |\band\b|\bund\b|\bet\b|\be\b(?= )"


@lru_cache(maxsize=4096)
def said_by(text: str) -> tuple[tuple[str, str], ...]:
    """The states that folded words set, as (state, value): "arco, con sord." sets two."""
    found: dict[str, str] = {}
    for piece in (text, *re.split(_CUT, text)):
        for state, value in _rows(piece.strip(" ().[]")):
            found.setdefault(state, value)
    return tuple(found.items())


def _rows(piece: str) -> list[tuple[str, str]]:
    found: dict[str, str] = {}
    for row in figures()["words"]:
        if row["sets"] not in found and any(begins(piece, b) for b in row["begins"]):
            found[row["sets"]] = row["to"]
    return list(found.items())


def begins(text: str, word: str) -> bool:
    """True where a text starts with a word, not with a longer word that starts with it."""
    if not text.startswith(word.rstrip(".")):
        return False
    rest = text[len(word.rstrip(".")) :]
    whole = word.endswith(".") or word[-1:].isdigit() or len(word) < 5
    return not (whole and rest[:1].isalnum())
