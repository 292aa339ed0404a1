"""Which marks belong to the whole system and which to one staff, and which words are of loudness.

The words are the usual ones of Italian, English, German and French scores (common practice, no
source).
"""

from __future__ import annotations

import re

from expander.model.score import Direction

_SYSTEM_TYPES = frozenset({"rehearsal", "metronome", "segno", "coda"})
_SYSTEM_SOUNDS = frozenset(
    {"tempo", "dacapo", "dalsegno", "tocoda", "fine", "coda", "segno", "forward-repeat"}
)
_TEMPO_WORDS = re.compile(
    r"""^\W*(?:(?:poco|molto|un|più|piu|meno|sehr|très|tres|non|assai|ma)\s+(?:a\s+poco\s+)?)*
    (?:grave|largo|larghetto|lento|adagio|adagietto|andante|andantino|moderato|allegretto|allegro|
    vivace|vivo|presto|prestissimo|mosso|tempo|a\s+tempo|l'istesso|rit\b|ritard|ritenuto|rall|
    accel|string|stringendo|allarg|slargando|rubato|largamente|maestoso|
    d\.?\s?c\b|d\.?\s?s\b|da\s+capo|dal\s+segno|fine|to\s+coda|al\s+coda|coda|
    langsam|mäßig|mässig|schnell|lebhaft|ruhig|bewegt|lent|modéré|vif|vite|animé|
    slow|slowly|fast|moderate|moderately|freely|in\s+time|swing|straight)""",
    re.IGNORECASE | re.VERBOSE,
)

_SWELLING_WORDS = re.compile(
    r"""^\W*(?:(?:poco|molto|più|piu|sempre|a|non)\s+)*
    (?:cresc|decresc|dim\b|dimin|smorz|morendo|calando|perdendo|anwachs|abnehm)""",
    re.IGNORECASE | re.VERBOSE,
)


def swells(direction: Direction) -> bool:
    """True for words that say how the loudness changes: "cresc.", "poco a poco dim."."""
    return any(m.name == "words" and _SWELLING_WORDS.match(m.text) for m in direction.marks)


def is_system_mark(direction: Direction) -> bool:
    """True for tempo, rehearsal marks and jumps, which all players need."""
    if any(mark.name in _SYSTEM_TYPES for mark in direction.marks):
        return True
    if direction.sound and any(key in _SYSTEM_SOUNDS for key, _ in direction.sound.attributes):
        return True
    words = direction.first("words")
    return bool(words and _TEMPO_WORDS.match(words.text))
