"""Which notes a chord needs most, when there are fewer players than notes.

Common practice, no source: the top line and the bass stay; then third and seventh, which say
what chord it is; altered fifths and tensions; the root; the perfect fifth; doublings go first.
The figures are in `needs.json`. Pitches are sounding semitones, roots pitch classes from C = 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from typing import Any

from expander.model.tables import table


def _facts() -> Mapping[str, Any]:
    return table(__file__, "needs.json")


def figure(role: str) -> int:
    """How much a note of that role is needed (a higher figure: more)."""
    found: int = _facts()["needs"][role]
    return found


@lru_cache(maxsize=4096)
def root_of(classes: frozenset[int], bass: int) -> int | None:
    """The likeliest root of a set of pitch classes over a bass, None for fewer than two.

    The shape wins that explains most and leaves least over; the bass is preferred as root.
    """
    if len(classes) < 2:
        return None
    ranked = max(
        (_likeness(classes, shape, root) + (2 if root == bass else 0), -((root - bass) % 12), root)
        for root in sorted(classes)
        for shape in _shapes()
    )
    return ranked[2]


@cache
def _shapes() -> tuple[frozenset[int], ...]:
    return tuple(frozenset(shape) for shape in _facts()["shapes"].values())


def _likeness(classes: frozenset[int], shape: frozenset[int], root: int) -> int:
    """Notes explained count for it; notes left over and notes missing count against it."""
    above = {(c - root) % 12 for c in classes}
    missing = shape - above
    lost = sum(2 if interval == 7 else 4 for interval in missing)
    return 4 * len(above & shape) - 4 * len(above - shape) - lost


def role(interval: int, above: frozenset[int]) -> str:
    """What a pitch class is to the root it stands `interval` semitones above.

    `above` are all intervals of the chord: a minor third beside a major one is a sharp ninth,
    a fourth without a third is in the third's place, a sixth without a seventh in the seventh's.
    """
    third = bool(above & {3, 4})
    seventh = bool(above & {10, 11})
    by_interval = {
        0: "root",
        1: "tension",
        2: "tension" if third or 5 in above else "third",
        3: "tension" if 4 in above else "third",
        4: "third",
        5: "tension" if third else "third",
        6: "tension" if 7 in above else "altered",
        7: "fifth",
        8: "tension" if 7 in above else "altered",
        9: "tension" if seventh else "seventh",
        10: "seventh",
        11: "seventh",
    }
    return by_interval[interval]


def needs_of(pitches: Sequence[int], root: int | None = None) -> tuple[int, ...]:
    """How much each note is needed, for a chord from the top line down.

    The first note counts as the top line and the lowest as the bass. `root` is the pitch class
    of a chord symbol; without it the root is found from the notes.
    """
    if not pitches:
        return ()
    bass = min(range(len(pitches)), key=lambda i: (pitches[i], -i))
    classes = frozenset(p % 12 for p in pitches)
    if root is None:
        root = root_of(classes, pitches[bass] % 12)
    heard: set[int] = {pitches[0] % 12, pitches[bass] % 12}
    found = []
    for index, pitch in enumerate(pitches):
        name = "top" if index == 0 else "bass" if index == bass else ""
        found.append(figure(name or _inner(pitch % 12, root, classes, heard)))
    return tuple(found)


def _inner(pitch_class: int, root: int | None, classes: frozenset[int], heard: set[int]) -> str:
    """The role of an inner note; `heard` grows by its pitch class."""
    if root is None:
        return "doubled" if pitch_class in heard else "fifth"
    name = role((pitch_class - root) % 12, frozenset((c - root) % 12 for c in classes))
    if pitch_class not in heard:
        heard.add(pitch_class)
        return name
    return f"doubled {name}" if name in ("root", "fifth") else "doubled"
