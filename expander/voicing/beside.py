"""What speaks for two voices beside each other, and for voices being silent.

Looked at: crossings new and old, their depth, unisons, distances; past a resting voice; which is
longer, which repeats; pairs that move together, and where an interval goes when one or both move.
Conventions and the way of counting: `texture.py`.
"""

from __future__ import annotations

from collections.abc import Sequence

from expander.voicing.figures import START
from expander.voicing.texture import REST_CLASS, Features, Past, Texture, step_of

# Where each table begins.
_NOT_YET_HEARD = START["not yet heard"]
_SILENCE = START["silence"]
_WHO_RESTS = START["who rests"]
_PAST_A_RESTING_VOICE = START["past a resting voice"]
_CROSSING_DEPTH = START["crossing depth"]
_CROSSING = START["crossing"]
_UNISON = START["unison"]
_DISTANCE = START["distance"]
_IN_ORDER = START["in order"]
_WHICH_IS_LONGER = START["which is longer"]
_WHICH_REPEATS = START["which repeats"]
_RESOLUTION = START["resolution"]
_INTERVALS = START["intervals"]
_FIFTHS_AND_OCTAVES = START["fifths and octaves"]
_APART = START["apart"]
_TOGETHER = START["together"]
_PARALLELS = START["parallels"]
_SAME_DIRECTION = START["same direction"]

Two = tuple[int, int]
"""Something of the upper voice and of the lower."""


def silence(texture: Texture, now: int, voice: int, past: Past, sounding: int) -> Features:
    """What speaks for a voice being silent while `sounding` others are not."""
    if past[0] < 0:
        return [_NOT_YET_HEARD + texture.kinds[voice]]
    rest = texture.rest(now - texture.ends[past[0]])
    return [_SILENCE + (rest * 4 + texture.kinds[voice]) * 5 + min(sounding, 4)]


def resting(texture: Texture, now: int, pasts: Sequence[Past], new: Sequence[int]) -> int:
    """What speaks for the voices that are silent together, `new` being what each voice takes."""
    silent = idle = 0
    for kind, past, tone in zip(texture.kinds, pasts, new, strict=True):
        end = texture.ends[past[0]]
        silent |= (tone < 0 and end <= now) << kind
        idle |= (end < now) << kind
    together = sum([tone >= 0 for tone in new]) > 1
    return _WHO_RESTS + (silent * 2 + (silent != idle)) * 2 + together


def pair(texture: Texture, now: int, voices: Two, before: Two, new: Two) -> Features:
    """What speaks for two voices beside each other when one or both take a new note.

    `voices` from above; `before` are their last notes, `new` what they take (-1: nothing).
    """
    upper = new[0] if new[0] >= 0 else before[0]
    lower = new[1] if new[1] >= 0 else before[1]
    if upper < 0 or lower < 0:
        return []
    ends, pitches = texture.ends, texture.pitches
    order = _order(texture, before)
    depth = pitches[lower] - pitches[upper]
    up_sounds = ends[upper] > now
    if up_sounds and ends[lower] > now:
        found = _heights(texture, now, voices, depth, order, before, new)
        found += _contrast(texture, voices, depth, (upper, lower), before, new)
    else:
        gap = REST_CLASS[texture.rest(now - ends[before[1] if up_sounds else before[0]])]
        past = 0 if depth < 0 else 1 if depth == 0 else min(5, 2 + depth // 3)
        found = [_PAST_A_RESTING_VOICE + (gap * 6 + past) * 5 + order]
    if before[0] < 0 or before[1] < 0:
        return found
    if ends[before[0]] >= now and ends[before[1]] >= now:
        found += _resolved(texture, now, voices, before, new)
    return found + _partners(texture, now, before, new)


def _order(texture: Texture, before: Two) -> int:
    """How two voices stood: 0 in order, 1 crossed, 2 unknown, 3 level, 4 crossed in turn."""
    upper, lower = before
    if upper < 0 or lower < 0:
        return 2
    if texture.pitches[upper] > texture.pitches[lower]:
        return 0
    if texture.pitches[upper] == texture.pitches[lower]:
        return 3
    until = min(texture.ends[upper], texture.ends[lower])
    return 1 if until > max(texture.onsets[upper], texture.onsets[lower]) else 4


def _gap(texture: Texture, now: int, old: int, new: int) -> int:
    if old < 0 or new < 0:
        return 0
    return REST_CLASS[texture.rest(now - texture.ends[old])]


def _heights(
    texture: Texture, now: int, voices: Two, depth: int, order: int, before: Two, new: Two
) -> Features:
    """Two voices that sound: crossed, in unison, or in order and how far apart."""
    upper, lower = texture.kinds[voices[0]], texture.kinds[voices[1]]
    both, far = new[0] >= 0 and new[1] >= 0, voices[1] - voices[0] > 1
    gap = max(_gap(texture, now, before[0], new[0]), _gap(texture, now, before[1], new[1]))
    state = ((order * 4 + gap) * 2 + both) * 2 + far
    where = (both * 4 + upper) * 4 + lower
    if depth > 0:
        deep = depth if depth <= 7 else 8 if depth <= 12 else 9
        place = _CROSSING_DEPTH + (where * 2 + far) * 10 + deep
        return [place, _CROSSING + state]
    if depth == 0:
        return [_UNISON + where * 5 + order]
    apart = ((upper * 4 + lower) * 2 + far) * 9 + min(-depth // 3, 8)
    return [_DISTANCE + apart, _IN_ORDER + state]


def _contrast(
    texture: Texture, voices: Two, depth: int, sounding: Two, before: Two, new: Two
) -> Features:
    """Which of two voices has the longer note, and which repeats its own, by how they stand."""
    pitches, lengths = texture.pitches, texture.lengths
    both, stand = new[0] >= 0 and new[1] >= 0, 0 if depth < 0 else 1 if depth == 0 else 2
    place = (stand * 6 + _couple(texture, voices)) * 2 + both
    upper, lower = lengths[sounding[0]], lengths[sounding[1]]
    longer = 0 if upper < lower else 1 if upper == lower else 2
    found = [_WHICH_IS_LONGER + longer * 36 + place]
    again = [
        tone >= 0 and old >= 0 and pitches[tone] == pitches[old]
        for tone, old in zip(new, before, strict=True)
    ]
    if again[0] != again[1]:
        found.append(_WHICH_REPEATS + again[0] * 36 + place)
    return found


def _couple(texture: Texture, voices: Two) -> int:
    """Which two of four voices: 0 to 5 (0 where there are only two)."""
    upper, lower = voices
    if texture.count <= 2:
        return 0
    return min(5, upper * 3 + lower - 1 - upper * (upper + 1) // 2)


def _resolved(texture: Texture, now: int, voices: Two, before: Two, new: Two) -> Features:
    """Where the interval between two voices goes that sounded until now."""
    pitches, far = texture.pitches, voices[1] - voices[0] > 1
    old = (pitches[before[0]] - pitches[before[1]]) % 12
    moves = [
        step_of(pitches[tone] - pitches[last]) if tone >= 0 else -1
        for tone, last in zip(new, before, strict=True)
    ]
    both = moves[0] >= 0 and moves[1] >= 0
    found = [
        _RESOLUTION + ((old * 7 + move) * 2 + both) * 4 + 2 * side + far
        for side, move in enumerate(moves)
        if move >= 0
    ]
    if both and texture.ends[before[0]] == now == texture.ends[before[1]]:
        found += _intervals(texture, voices, old, before, new)
    return found


def _intervals(texture: Texture, voices: Two, old: int, before: Two, new: Two) -> Features:
    """The interval after the other, and whether fifths or octaves follow each other."""
    pitches = texture.pitches
    depth = pitches[new[0]] - pitches[new[1]]
    far, bottom = voices[1] - voices[0] > 1, voices[1] == texture.count - 1
    found = [_INTERVALS + ((old * 12 + depth % 12) * 2 + far) * 2 + bottom]
    first, second = pitches[new[0]] - pitches[before[0]], pitches[new[1]] - pitches[before[1]]
    if old == depth % 12 and old in (0, 7) and first:
        against = (first > 0) - (first < 0) != (second > 0) - (second < 0)
        found.append(_FIFTHS_AND_OCTAVES + ((old == 7) * 2 + against) * 2 + (depth < 0))
    return found


def _partners(texture: Texture, now: int, before: Two, new: Two) -> Features:
    """Two voices whose last notes began and ended together, and whether they go on so."""
    one, two = before
    pitches, lengths = texture.pitches, texture.lengths
    if texture.onsets[one] != texture.onsets[two] or lengths[one] != lengths[two]:
        return []
    upper, lower = new
    if upper < 0 or lower < 0:
        return [_APART + REST_CLASS[texture.rest(now - texture.ends[one])]]
    found = [_TOGETHER + (lengths[upper] == lengths[lower])]
    if texture.ends[one] != now:
        return found
    old, after = (pitches[one] - pitches[two]) % 12, (pitches[upper] - pitches[lower]) % 12
    if old == after and old in (0, 7) and pitches[one] != pitches[upper]:
        found.append(_PARALLELS + (old == 7) * 2 + (pitches[one] == pitches[two]))
    first, second = pitches[upper] - pitches[one], pitches[lower] - pitches[two]
    same = (first > 0) - (first < 0) == (second > 0) - (second < 0)
    return [*found, _SAME_DIRECTION + same]
