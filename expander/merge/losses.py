"""What a program lost in saving, told from what a hand took out.

Where a score had several of a kind of thing and the saved one has none at all, in any part, the
program does not save that kind. It is then taken as if it had not been touched.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from expander.merge.facts import BARLINE, DIRECTION, LYRIC, MARKS, NOTES, SYMBOL, FactKey, Facts

FEWEST = 4
"""In how many bars of parts there must have been some."""

Kind = tuple[str, str]


def lost_kinds(bars: Iterable[tuple[Facts, Facts]]) -> dict[Kind, int]:
    """Kinds of things that are gone altogether, with how many there were, in order of names.

    `bars` are the facts of old bars with those of the same edited ones. What stood on notes that
    are gone too was taken out with them.
    """
    before: Counter[Kind] = Counter()
    places: Counter[Kind] = Counter()
    after: set[Kind] = set()
    for old, edited in bars:
        here = _counts(old, edited)
        before.update(here)
        places.update(here.keys())
        after |= _counts(edited, edited).keys()
    gone = {k: n for k, n in before.items() if places[k] >= FEWEST and k not in after}
    return dict(sorted(gone.items()))


def _counts(facts: Facts, notes: Facts) -> Counter[Kind]:
    """How many of each kind a bar has, of marks on notes those whose notes are in `notes`."""
    counts: Counter[Kind] = Counter()
    for key, value in facts.items():
        if key[0] not in (MARKS, LYRIC) or _has_note(notes, key):
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
