"""The nearest valid name, for messages."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str:
    """The known name most like the word; "" where none comes near. Capitals do not count."""
    folded: dict[str, str] = {}
    for name in known:
        folded.setdefault(name.casefold(), name)
    found = difflib.get_close_matches(word.casefold(), folded, n=1, cutoff=0.6)
    return folded[found[0]] if found else ""


def meant(word: str, known: Iterable[str]) -> str:
    """The question whether the nearest name was meant, as a hint; "" where none comes near."""
    found = nearest(word, known)
    return f'Did you mean "{found}"?' if found else ""


def listed(names: Iterable[str], *, most: int = 12, last: str = "or") -> str:
    """Names in a row for a sentence: `a, b or c`; a long row is cut short."""
    row = list(names)
    if len(row) > most:
        return f"{', '.join(row[:most])} and {len(row) - most} more"
    if len(row) < 2:
        return "".join(row)
    return f"{', '.join(row[:-1])} {last} {row[-1]}"
