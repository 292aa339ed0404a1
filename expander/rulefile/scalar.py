"""Words written into a YAML text so that they read back as the same words."""

from __future__ import annotations

import re

# Begins with a letter, holds nothing that YAML gives a meaning, in brackets or out.
_PLAIN = re.compile(r"[^\W\d_](?:[\w' ./+-]*[\w'./+])?")
_PLAIN_BARS = re.compile(r"\d+(?:-(?:\d+|end))?")

# What one YAML reader or another takes for yes, no or nothing.
_SPECIAL = frozenset({"true", "false", "yes", "no", "on", "off", "y", "n", "null"})

_ESCAPES = {'"': '\\"', "\\": "\\\\"}


def quoted(text: str, *, bars: bool = False) -> str:
    """The text as a YAML value: plain where that is safe for every reader, else in quotes.

    Nothing for an empty text. `bars` lets bar numbers stand plain.
    """
    if not text or (bars and _PLAIN_BARS.fullmatch(text)):
        return text
    if _PLAIN.fullmatch(text) and text.isprintable() and text.casefold() not in _SPECIAL:
        return text
    return f'"{"".join(_escaped(c) for c in text)}"'


def remark(text: str) -> str:
    """The text on one line, without characters that a text file may not hold."""
    return "".join(c for c in " ".join(text.split()) if c.isprintable())


def _escaped(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
