"""Parts that stand at another pitch in the edited score: another instrument's, or concert pitch.

Their notes are not to be mixed with the new score's: such a part stays as it was edited.
"""

from __future__ import annotations

from collections.abc import Sequence

from expander.merge.facts import NOTES, Facts
from expander.merge.part import EDITED, OLD, Versions
from expander.merge.same import value_sign
from expander.parts.inforce import in_force


def is_rewritten(versions: Versions, pairs: Sequence[tuple[int, int]]) -> bool:
    """Whether most of a part is transposed otherwise than before, and with other notes."""
    if not (versions.has(OLD) and versions.has(EDITED)):
        return False
    before, after = (in_force(versions.laid[side]).moves for side in (OLD, EDITED))
    moved = [(o, e) for o, e in pairs if value_sign(before[o]) != value_sign(after[e])]
    if 2 * len(moved) <= len(pairs):
        return False
    notes = [(_notes(versions.facts(OLD, o)), _notes(versions.facts(EDITED, e))) for o, e in moved]
    heard = [(mine, yours) for mine, yours in notes if mine or yours]
    return 2 * sum(mine != yours for mine, yours in heard) > len(heard)


def _notes(facts: Facts) -> dict[object, object]:
    return {key: value for key, value in facts.items() if key[0] == NOTES}


def edited_only(versions: Versions) -> Versions:
    """The part as if no other score had it."""
    return Versions(
        versions.band,
        versions.slots,
        {EDITED: versions.laid[EDITED]},
        {EDITED: versions.bare[EDITED]},
        versions.sounds,
        versions.lost,
        versions.readers,
    )
