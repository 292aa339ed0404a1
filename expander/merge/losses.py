"""What a program lost in saving, told from what a hand took out.

Where a score had several of a kind of thing and the saved one has none at all, in any part, the
program does not save that kind. It is then taken as if it had not been touched.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from expander.merge.facts import BARLINE, DIRECTION, LYRIC, MARKS, NOTES, SYMBOL, FactKey, Facts

FEWEST = 4
"""How many of a kind there must have been."""

Kind = tuple[str, str]


def lost_kinds(old: Iterable[Facts], edited: Iterable[Facts]) -> dict[Kind, int]:
    """Kinds of things that are gone altogether, with how many there were, in order of names."""
    before, after = _counts(old), _counts(edited)
    return {k: n for k, n in sorted(before.items()) if n >= FEWEST and not after[k]}


def _counts(bars: Iterable[Facts]) -> Counter[Kind]:
    counts: Counter[Kind] = Counter()
    for facts in bars:
        for key, value in facts.items():
            counts.update(kind for kind, _ in _kinds(key, value))
    return counts


def _kinds(key: FactKey, value: object) -> Iterator[tuple[Kind, object]]:
    """The kinds a fact speaks of, each with what it says of it."""
    kind = str(key[0])
    if kind == MARKS and isinstance(value, frozenset):
        for sign in sorted(value, key=repr):
            yield (MARKS, str(sign[0])), sign
    elif kind == DIRECTION:
        yield (DIRECTION, str(key[3])), value
    elif kind == BARLINE:
        yield (BARLINE, str(key[3])), value
    elif kind in (SYMBOL, LYRIC):
        yield (kind, ""), value


def restored(edited: Facts, old: Facts, lost: Iterable[Kind]) -> Facts:
    """The edited facts with what the program lost; marks only where there still is a note."""
    gone = set(lost)
    found = dict(edited)
    for key, value in old.items():
        back = [said for kind, said in _kinds(key, value) if kind in gone]
        if not back or (key[0] in (MARKS, LYRIC) and not _has_note(edited, key)):
            continue
        if key[0] == MARKS:
            before = found.get(key, frozenset())
            assert isinstance(before, frozenset)
            found[key] = before | frozenset(back)
        else:
            found[key] = value
    return found


def _has_note(facts: Facts, key: FactKey) -> bool:
    """Whether the staff of a mark has a note where the mark is."""
    signs = facts.get((NOTES, key[1]), ())
    assert isinstance(signs, tuple)
    return any(sign[0] == key[2] for sign in signs)
