"""Spread voicings: the best way up from bass to lead, found step by step.

The gaps between neighbours pay for their distance from the gap aimed at; missing tones pay as
everywhere. The search is exact for these prices, since a way up is only ever judged by its
last note and by the tones it has met.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from expander.model.pitch import Sounding
from expander.voicing.harmony import Tone
from expander.voicing.layout import Ask, Layout, chord_scale, key_of
from expander.voicing.price import Terms, content_price, prices

_Path = tuple[int, tuple[Sounding, ...]]
_States = dict[tuple[int, frozenset[int]], _Path]
_KEPT = 6
_WIDEST = 11
_WIDEST_BELOW = 16
_NARROWEST = 2


def spread_paths(ask: Ask, bass: Sounding, tops: Sequence[Sounding]) -> Iterator[Layout]:
    """The few best layouts from one bass to each of several leads, best first."""
    tones = {t.pitch_class: t for t in chord_scale(ask.chord) if t.named}
    highest = max(key_of(t) for t in tops)
    states: _States = {(key_of(bass), frozenset()): (0, (bass,))}
    for position in range(ask.voices - 2):
        states = _step(states, tones, highest, position)
    for lead in tops:
        yield from _finished(ask, states, lead)


def _finished(ask: Ask, states: _States, lead: Sounding) -> Iterator[Layout]:
    last = ask.voices - 2
    paths = [
        (cost + _gap_price(key_of(lead) - key, last), (*path, lead))
        for (key, _), (cost, path) in states.items()
        if _fits(key_of(lead) - key, last)
    ]
    ranked = sorted((_total(ask, path) + cost, _keys(path), path) for cost, path in paths)
    yield from (tuple(reversed(path)) for _, _, path in ranked[:_KEPT])


def _step(states: _States, tones: dict[int, Tone], top: int, position: int) -> _States:
    """One voice higher; of two ways to the same note with the same tones the cheaper stays."""
    reach = _WIDEST_BELOW if position == 0 else _WIDEST
    found: _States = {}
    for (key, met), (cost, path) in states.items():
        for gap in range(_NARROWEST, min(reach, top - key - 1) + 1):
            tone = tones.get((key + gap) % 12)
            if tone is None:
                continue
            state = (key + gap, met | {tone.pitch_class})
            price = cost + _gap_price(gap, position)
            if state not in found or price < found[state][0]:
                found[state] = (price, (*path, tone.at(key + gap)))
    return found


def _fits(gap: int, position: int) -> bool:
    return _NARROWEST < gap <= (_WIDEST_BELOW if position == 0 else _WIDEST + 1)


def _gap_price(gap: int, position: int) -> int:
    table = prices()["spread"]
    return (gap - table["bottom" if position == 0 else "gap"]) ** 2


def _keys(path: Layout) -> tuple[int, ...]:
    return tuple(key_of(n) for n in path)


def _total(ask: Ask, path: Layout) -> int:
    return content_price([k % 12 for k in reversed(_keys(path))], ask.chord, Terms())
