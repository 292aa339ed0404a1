"""How the notes of a voicing are laid out, by shape.

A shape answers an `Ask` with every layout it knows; choosing among them is left to the price.
Layouts are tuples of sounding pitches from the top voice down. Without a lead, a shape tries
every chord tone as top note inside the window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations, pairwise, permutations, product

from expander.model.pitch import Interval, Sounding
from expander.voicing.harmony import SLOTS, ChordTones, Tone
from expander.voicing.lattice import spread_paths
from expander.voicing.layout import (
    Ask,
    Layout,
    above,
    below,
    chord_scale,
    key_of,
    leads,
    options,
)

_SPREAD_SLACK = 14


def unison(ask: Ask) -> Iterator[Layout]:
    """Everybody on the lead."""
    for lead in leads(ask):
        yield (lead,) * ask.voices


def octaves(ask: Ask) -> Iterator[Layout]:
    """The lead and its lower octaves; the upper octaves get the odd voices."""
    count = 2 if ask.voices <= 5 else 3
    for lead in leads(ask):
        yield tuple(lead.octave_moved(-(i * count // ask.voices)) for i in range(ask.voices))


def stack(ask: Ask) -> Iterator[Layout]:
    """Close position and its drops."""
    for lead in leads(ask):
        for tones in _fillings(ask, lead):
            notes = [lead, *(below(t, key_of(lead)) for t in tones)]
            notes.sort(key=key_of, reverse=True)
            for close in _of_four(notes, min(ask.voices, 4)):
                yield _widened(close, ask)


def _fillings(ask: Ask, lead: Sounding) -> Iterator[tuple[Tone, ...]]:
    """One tone for each slot that the lead leaves free, as many as there are voices for."""
    taken = ask.chord.slot_of(key_of(lead) % 12)
    free = [options(ask.chord, s) for s in SLOTS if s != taken]
    free = [_without_root(row) if ask.rootless else row for row in free if row]
    for row in product(*free):
        classes = {t.pitch_class for t in row} | {key_of(lead) % 12}
        if len(classes) > len(row):
            yield from combinations(row, min(ask.voices - 1, len(row)))


def _without_root(row: tuple[Tone, ...]) -> tuple[Tone, ...]:
    return tuple(t for t in row if t.number != 1) or row


def _of_four(notes: list[Sounding], size: int) -> Iterator[list[Sounding]]:
    """A close position of `size` notes; a triad's fourth is any of its notes an octave lower."""
    if len(notes) >= size:
        yield notes
        return
    for first in notes:
        source = [first, *(n for n in notes if n != first)]
        yield _filled(notes, source, size)


def _filled(notes: list[Sounding], source: Sequence[Sounding], size: int) -> list[Sounding]:
    """`notes` with lower octaves of `source`, the lead's first, up to `size` different keys."""
    result, octave = list(notes), 1
    while len(result) < size:
        taken = {key_of(n) for n in result}
        lower = [n.octave_moved(-octave) for n in source]
        result += [n for n in lower if key_of(n) not in taken][: size - len(result)]
        octave += 1
    return sorted(result, key=key_of, reverse=True)


def _widened(close: list[Sounding], ask: Ask) -> Layout:
    moved = [n.octave_moved(-1) if i + 1 in ask.drops else n for i, n in enumerate(close)]
    dropped = list({key_of(n): n for n in moved}.values())
    return tuple(_filled(dropped, close, ask.voices))


def shell(ask: Ask) -> Iterator[Layout]:
    """Third and seventh, with the root below from three voices on and a fifth for a fourth."""
    third, seventh, root = (_core(ask.chord, s) for s in ("third", "seventh", "root"))
    if ask.lead is not None:
        yield from _shell_under(ask, ask.lead, (third, seventh, root))
        return
    color = (ask.chord.slot("fifth") or (root,))[0]
    upper = [third, seventh, color][: max(2, ask.voices - 1)]
    for key in range(ask.low, ask.high + 1):
        for order in permutations(upper):
            first = order[0] if ask.voices == 2 else ask.chord.lowest
            if key % 12 == first.pitch_class:
                yield _upwards(first.at(key), order[1:] if ask.voices == 2 else order)


def _core(chord: ChordTones, slot: str) -> Tone:
    """The tone of a slot, or the nearest thing a chord without it has."""
    found = chord.own(slot) or next(iter(chord.slot(slot)), None)
    return found or chord.own("fifth") or chord.root


def _upwards(lowest: Sounding, tones: Sequence[Tone]) -> Layout:
    notes = [lowest]
    for tone in tones:
        notes.append(above(tone, key_of(notes[-1])))
    return tuple(reversed(notes))


def _downwards(lead: Sounding, tones: Sequence[Tone]) -> Layout:
    notes = [lead]
    for tone in tones:
        notes.append(below(tone, key_of(notes[-1])))
    return tuple(notes)


def _shell_under(ask: Ask, lead: Sounding, core: tuple[Tone, Tone, Tone]) -> Iterator[Layout]:
    *guides, root = [t for t in core if t.pitch_class != key_of(lead) % 12] or core
    wanted = ask.voices - 1
    inner = guides[:wanted]
    tail = [root] * (wanted - len(inner))
    for order in permutations(inner):
        yield _downwards(lead, [*order, *tail])


def rootless(ask: Ask) -> Iterator[Layout]:
    """The forms from the bottom up; under a lead, close position without the root."""
    if ask.lead is not None:
        yield from stack(ask)
        return
    low, high = ask.lowest or (ask.low, ask.high)
    for form in ask.forms:
        tones = [_role(ask.chord, name) for name in form]
        for key in range(low, high + 1):
            if key % 12 == tones[0].pitch_class:
                yield _upwards(tones[0].at(key), tones[1:])


def _role(chord: ChordTones, name: str) -> Tone:
    """A word of a form as a tone: third, seventh, ninth, or the colour in the fifth's place."""
    if name == "seventh" and not chord.slot(name):
        return chord.root
    if name in SLOTS:
        return _core(chord, name)
    slot, number = ("root", 9) if name == "ninth" else ("fifth", 13)
    named = next((t for t in chord.slot(slot) if t.is_tension), None)
    spare = next((t for t in chord.available if t.number == number), None)
    if name == "color" and chord.quality != "dominant":
        spare = None
    return named or spare or _core(chord, slot)


def spread(ask: Ask) -> Iterator[Layout]:
    """Root (or the bass asked for) lowest, the rest above it in wide position."""
    bass, tops = ask.chord.lowest, list(leads(ask))
    if not tops:
        return
    keys = [key_of(t) for t in tops]
    narrow, usual = 3 * (ask.voices - 1), 5 * ask.voices
    deepest = max(ask.low - 12, min(keys) - usual - _SPREAD_SLACK)
    for key in range(deepest, max(keys) - narrow + 1):
        near = [t for t in tops if narrow <= key_of(t) - key <= usual + _SPREAD_SLACK]
        if key % 12 == bass.pitch_class and near:
            yield from spread_paths(ask, bass.at(key), near)


def fourths(ask: Ask) -> Iterator[Layout]:
    """Fourths down from the lead, thirds here and there but never two in a row."""
    yield from _ladders(ask, (5, 6, 4, 3), lambda gaps: not _two_thirds(gaps))


def _two_thirds(gaps: Sequence[int]) -> bool:
    return any(a <= 4 and b <= 4 for a, b in pairwise(gaps))


def cluster(ask: Ask) -> Iterator[Layout]:
    """Scale neighbours down from the lead."""
    yield from _ladders(ask, (2, 1, 3), lambda gaps: gaps[0] != 1)


def _ladders(
    ask: Ask, steps: tuple[int, ...], fits: Callable[[Sequence[int]], bool]
) -> Iterator[Layout]:
    """Different scale notes going down by the given steps, where the gaps fit."""
    scale = {t.pitch_class: t for t in chord_scale(ask.chord)}

    def down(notes: Layout, gaps: tuple[int, ...]) -> Iterator[Layout]:
        if len(notes) == ask.voices:
            yield notes
            return
        used = {key_of(n) % 12 for n in notes}
        for step in steps:
            key = key_of(notes[-1]) - step
            tone = scale.get(key % 12)
            if tone and key % 12 not in used and fits((*gaps, step)):
                yield from down((*notes, tone.at(key)), (*gaps, step))

    for lead in leads(ask):
        yield from down((lead,), ())


_TRIADS = ((Interval(2, 4), Interval(4, 7)), (Interval(2, 3), Interval(4, 7)))


def upper(ask: Ask) -> Iterator[Layout]:
    """A triad of upper tones over third and seventh over the bass; four voices: triad and bass."""
    for lead in leads(ask):
        for triad in _triads_with(ask.chord, key_of(lead) % 12):
            top = _triad_under(lead, triad)
            yield from _over_bass(ask, top)


def _triads_with(chord: ChordTones, pitch_class: int) -> Iterator[tuple[Sounding, ...]]:
    """Major and minor triads of the symbol's and available tones that hold a pitch class."""
    pool = {t.pitch_class: t for t in (*chord.available, *chord.sounding)}
    for tone, shape in product(pool.values(), _TRIADS):
        root = tone.at(60 + tone.pitch_class)
        spellings = [_triad(r, shape) for r in (root, *_neighbours(root))]
        own = {key_of(n) % 12 for n in spellings[0]}
        if pitch_class in own and own <= set(pool):
            yield max(spellings, key=lambda triad: _agreement(triad, pool))


def _triad(root: Sounding, shape: tuple[Interval, ...]) -> tuple[Sounding, ...]:
    return (root, *(root.moved(i) for i in shape))


def _neighbours(pitch: Sounding) -> tuple[Sounding, ...]:
    """The same sound on the letters above and below."""
    return pitch.moved(Interval(1, 0)), pitch.moved(Interval(-1, 0))


def _agreement(triad: Sequence[Sounding], pool: Mapping[int, Tone]) -> tuple[int, int]:
    """How well a triad's spelling agrees with the chord's, plain tones first; then how plain."""
    tones = [pool[key_of(n) % 12] for n in triad]
    same = [t for t, n in zip(tones, triad, strict=True) if (t.step, t.alter) == (n.step, n.alter)]
    weight = sum(1 if t.is_tension else 3 for t in same)
    return weight, -sum(abs(int(n.alter)) for n in triad)


def _triad_under(lead: Sounding, triad: Sequence[Sounding]) -> list[Sounding]:
    top = key_of(lead)
    rest = [n for n in triad if (key_of(n) - top) % 12]
    placed = [n.octave_moved((top - 1 - key_of(n)) // 12) for n in rest]
    return [lead, *sorted(placed, key=key_of, reverse=True)]


def _over_bass(ask: Ask, top: list[Sounding]) -> Iterator[Layout]:
    chord = ask.chord
    guides = [chord.own("third"), chord.own("seventh")] if ask.voices > 4 else []
    inner = [t for t in guides if t]
    for order in permutations(inner):
        body = [*top[:-1], *_downwards(top[-1], order)]
        if ask.voices <= len(body):
            yield tuple(body[: ask.voices])
            continue
        full = [*body, below(chord.lowest, key_of(body[-1]))]
        yield tuple(_filled(full, body, ask.voices))


SHAPES: Mapping[str, Callable[[Ask], Iterator[Layout]]] = {
    "unison": unison,
    "octaves": octaves,
    "stack": stack,
    "spread": spread,
    "shell": shell,
    "rootless": rootless,
    "fourths": fourths,
    "cluster": cluster,
    "upper": upper,
}
